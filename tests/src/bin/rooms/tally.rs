//! What became of many rooms.

/// Sums over rooms.
#[derive(Debug, Default, Clone)]
pub(crate) struct Tally {
    /// All rooms.
    pub rooms: usize,
    /// Rooms that some setting passes.
    pub feasible: usize,
    /// ... with 0.1 mm to spare, and of these in the band after two rounds.
    pub spare: usize,
    pub spare_two: usize,
    /// Of the feasible: truly in the band at the end of round one, two, three.
    pub in_rounds: [usize; 3],
    /// Rooms with 0.1 mm to spare that were surveyed, and of them in the band after two rounds.
    pub spare_surveyed: usize,
    pub spare_in_two: usize,
    /// Judged within, and of these falsely, somewhere on the fine grid: as it was said, but for what
    /// nobody would have seen.
    pub within: usize,
    pub false_within: usize,
    /// Of these how many make that exception, and how many are out somewhere, exception or not.
    pub excepting: usize,
    pub out_in_all: usize,
    /// Truly within at the end, and of these said to be.
    pub truly: usize,
    pub truly_said: usize,
    /// Rooms surveyed.
    pub surveys: usize,
    /// Intervals at places read, and those that hold the truth.
    pub read: (usize, usize),
    /// The same between them.
    pub between: (usize, usize),
    /// Called feasible and not, called infeasible and not.
    pub wrong_yes: usize,
    pub wrong_no: usize,
    /// Called feasible, called infeasible.
    pub called: (usize, usize),
    /// Of the feasible rooms.
    pub instructions: Vec<f64>,
    pub clips: Vec<f64>,
    pub minutes: Vec<f64>,
    /// Where a trim could not go on.
    pub failures: usize,
    /// Rooms that missed something, by seed, with the margin of their best setting, mm.
    pub misses: Vec<(u64, f64, &'static str)>,
}

impl Tally {
    /// Over the columns of [`Tally::row`], a table in Markdown.
    pub(crate) const HEAD: &'static str = "\
| board | band, mm | rooms, feasible | in band after 1, 2, 3 rounds, % | 0.1 mm to spare: rooms, in 2, % | of these surveyed: rooms, in 2, % | `within` said, false % | with an exception %, out somewhere in all % \
| said where true, % | holds at places, between, % | called feasible, falsely % | called infeasible, falsely % \
| instructions, 90 % | clips | minutes, 95 % | surveyed, % | one at a time: in band %, instructions, minutes, 95 % |
| --- | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |";

    /// A room in which something could not be worked out.
    pub(crate) fn failed() -> Self {
        Self { failures: 1, ..Self::default() }
    }

    /// Adds another.
    pub(crate) fn add(&mut self, other: Self) {
        for (a, b) in [
            (&mut self.rooms, other.rooms),
            (&mut self.feasible, other.feasible),
            (&mut self.spare, other.spare),
            (&mut self.spare_two, other.spare_two),
            (&mut self.spare_surveyed, other.spare_surveyed),
            (&mut self.spare_in_two, other.spare_in_two),
            (&mut self.within, other.within),
            (&mut self.false_within, other.false_within),
            (&mut self.excepting, other.excepting),
            (&mut self.out_in_all, other.out_in_all),
            (&mut self.truly, other.truly),
            (&mut self.truly_said, other.truly_said),
            (&mut self.surveys, other.surveys),
            (&mut self.read.0, other.read.0),
            (&mut self.read.1, other.read.1),
            (&mut self.between.0, other.between.0),
            (&mut self.between.1, other.between.1),
            (&mut self.wrong_yes, other.wrong_yes),
            (&mut self.wrong_no, other.wrong_no),
            (&mut self.called.0, other.called.0),
            (&mut self.called.1, other.called.1),
            (&mut self.failures, other.failures),
        ] {
            *a += b;
        }
        self.in_rounds.iter_mut().zip(other.in_rounds).for_each(|(a, b)| *a += b);
        self.instructions.extend(other.instructions);
        self.clips.extend(other.clips);
        self.minutes.extend(other.minutes);
        self.misses.extend(other.misses);
    }

    /// One line; `single` is of the same rooms adjusted one at a time.
    pub(crate) fn row(&self, name: &str, width_mm: f64, single: Option<&Self>) -> String {
        let after = self.in_rounds.map(|round| format!("{:.1}", percent(round, self.feasible)));
        let alone = single.map_or(String::new(), |single| {
            let done = single.minutes.iter().filter(|m| m.is_finite()).count();
            format!(
                "{:.1}, {:.0}, {:.1}, {:.0}",
                percent(done, single.feasible),
                quantile(&single.instructions, 0.5),
                quantile(&single.minutes, 0.5),
                quantile(&single.minutes, 0.95),
            )
        });
        let stopped = match self.failures {
            0 => String::new(),
            count => format!("; {count} could not go on"),
        };
        [
            name.to_owned(),
            format!("{width_mm:.1}"),
            format!("{}, {}{stopped}", self.rooms, self.feasible),
            after.join(", "),
            format!("{}, {:.1}", self.spare, percent(self.spare_two, self.spare)),
            format!(
                "{}, {:.1}",
                self.spare_surveyed,
                percent(self.spare_in_two, self.spare_surveyed)
            ),
            format!("{}, {:.2}", self.within, percent(self.false_within, self.within)),
            format!(
                "{:.0}, {:.2}",
                percent(self.excepting, self.within),
                percent(self.out_in_all, self.within)
            ),
            format!("{:.1}", percent(self.truly_said, self.truly)),
            format!(
                "{:.1}, {:.1}",
                percent(self.read.1, self.read.0),
                percent(self.between.1, self.between.0)
            ),
            format!("{}, {:.2}", self.called.0, percent(self.wrong_yes, self.called.0)),
            format!("{}, {:.2}", self.called.1, percent(self.wrong_no, self.called.1)),
            format!(
                "{:.0}, {:.0}",
                quantile(&self.instructions, 0.5),
                quantile(&self.instructions, 0.9)
            ),
            format!("{:.0}", quantile(&self.clips, 0.5)),
            format!("{:.1}, {:.1}", quantile(&self.minutes, 0.5), quantile(&self.minutes, 0.95)),
            format!("{:.0}", percent(self.surveys, self.rooms)),
            alone,
        ]
        .iter()
        .fold(String::from("|"), |row, cell| row + " " + cell + " |")
    }

    /// Goals that were not reached.
    pub(crate) fn missed(&self, name: &str, width_mm: f64) -> Vec<String> {
        let mut missed = Vec::new();
        let mut hold = |good: bool, what: String| {
            if !good {
                missed.push(format!("{name}: {what}"));
            }
        };
        let wide = width_mm >= 3.0;
        let two = percent(self.in_rounds[1], self.feasible);
        if wide {
            hold(two >= 99.9, format!("{two:.1} % in two rounds, wanted 99.9"));
            let median = quantile(&self.instructions, 0.5);
            hold(median <= 4.0, format!("{median:.0} instructions in the median, at most 4"));
            let (median, most) = (quantile(&self.minutes, 0.5), quantile(&self.minutes, 0.95));
            hold(median <= 5.0, format!("{median:.1} minutes in the median, at most 5"));
            hold(most <= 10.0, format!("95 % within {most:.1} minutes, at most 10"));
        }
        if (width_mm - 1.5).abs() < 1e-9 {
            let two = percent(self.spare_in_two, self.spare_surveyed);
            hold(two >= 99.0, format!("{two:.1} % of surveyed ones in two rounds, wanted 99"));
        }
        let wrong = percent(self.false_within, self.within);
        hold(
            self.within == 0 || wrong <= 2.5,
            format!("{wrong:.1} % of within false, at most 2.5"),
        );
        let said = percent(self.truly_said, self.truly);
        let wanted = if wide {
            80.0
        } else if width_mm > 1.2 {
            60.0
        } else {
            0.0
        };
        hold(said >= wanted, format!("within said in {said:.1} % where true, wanted {wanted:.0}"));
        let read = percent(self.read.1, self.read.0);
        hold((94.0..=97.0).contains(&read), format!("{read:.1} % held at places, wanted 94 to 97"));
        let between = percent(self.between.1, self.between.0);
        hold(between >= 95.0, format!("{between:.1} % held between places, wanted 95"));
        missed
    }
}

fn percent(part: usize, of: usize) -> f64 {
    if of == 0 { 0.0 } else { 100.0 * part as f64 / of as f64 }
}

fn quantile(of: &[f64], share: f64) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (share * sorted.len() as f64).ceil().max(1.0) as usize - 1;
    sorted.get(at).copied().unwrap_or(f64::NAN)
}
