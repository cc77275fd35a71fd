//! What a page shows of a view: every number with its unit, its trust and its shape, in both units.

use super::*;
use crate::asked;
use skimgauge_metrology::measure::Fault;
use skimgauge_procedure::takes::Takes;
use skimgauge_procedure::trial::{Trial, begin};
use skimgauge_procedure::trim::Trim;
use skimgauge_procedure::view::trim::{TrimView, TurnView, WatchedView};
use skimgauge_procedure::view::{Aim as AimIn, Offer};
use skimgauge_procedure::{Stop, Word as SaidWord};
use skimgauge_quantity::say;

fn good(gap_mm: f64) -> Reading<Mm> {
    Reading::Good { value: Mm(gap_mm), u: Mm(0.02) }
}

/// The practice job at its first station, with this gap on the head.
fn at(gap: Reading<Mm>, verdict: Option<Verdict>) -> View {
    let mut view = Trial::at(Takes::new(begin())).view();
    (view.live.gap, view.live.verdict) = (gap, verdict);
    view
}

/// The same while `left` is turned by half a turn anticlockwise, from 5.0 to 3.0 mm.
fn turning(gap: Reading<Mm>, left: f64) -> View {
    let mut view = Trial::at(Trim::new(begin()).unwrap()).view();
    (view.live.gap, view.live.verdict) = (gap, None);
    let to_go = gap.good().map(|gap| Mm(3.0) - gap);
    let there = to_go.is_some_and(|to_go| to_go.abs() <= Mm(0.05));
    view.aim = Some(AimIn { to: Mm(3.0), within: Mm(0.05), to_go, there });
    trim(&mut view).turn = Some(TurnView {
        adjuster: 0,
        name: "left".to_owned(),
        turns: Turns(-0.5),
        left: Turns(left),
        watched: Some(WatchedView {
            station: 0,
            from: Mm(5.0),
            to: Mm(3.0),
            within: Mm(0.05),
            outside_band: false,
        }),
        back: false,
        wrong_way: false,
    });
    view
}

fn trim(view: &mut View) -> &mut TrimView {
    let Part::Trim(trim) = &mut view.part else { panic!("no trim") };
    trim
}

/// An inch is 25.4 mm (international yard and pound agreement, 1959).
#[test]
fn one_gap_in_both_units() {
    let view = at(good(2.54), Some(Verdict::Within));
    let [mm, inch] = [Units::Mm, Units::Inch].map(|units| shown(&view, units));
    assert_eq!((mm.gap.digits.as_str(), mm.gap.unit, mm.units), ("2.54", "mm", "mm"));
    assert_eq!((inch.gap.digits.as_str(), inch.gap.unit, inch.units), ("0.100", "in", "in"));
    // Places are of the board, whatever a page writes.
    assert_eq!(mm.image, inch.image);
    let places = |shown: &Shown| shown.stations.iter().map(|s| s.at).collect::<Vec<_>>();
    assert_eq!(places(&mm), places(&inch));
    assert_eq!(mm.tone, inch.tone);
    assert_eq!((mm.number, inch.number), (view.number, view.number));
}

#[test]
fn a_verdict_has_word_and_shape_and_only_a_good_number_has_one() {
    for verdict in [Verdict::Within, Verdict::Outside, Verdict::Unsure] {
        let judged = shown(&at(good(2.5), Some(verdict)), Units::Mm).gap.verdict.unwrap();
        assert_eq!((judged.says, judged.shape), (verdict.shown(), verdict.shape()));
    }
    let why = Fault::Stale;
    let doubtful = Reading::Doubtful { value: Mm(2.5), why };
    let seen = shown(&at(doubtful, Some(Verdict::Within)), Units::Mm);
    assert_eq!((seen.gap.digits.as_str(), seen.gap.is), ("2.50?", "doubtful"));
    assert_eq!((seen.gap.why, seen.gap.verdict, seen.tone), (Some(why.name()), None, None));
    let seen = shown(&at(Reading::Absent { why }, Some(Verdict::Within)), Units::Mm);
    assert_eq!((seen.gap.digits.as_str(), seen.gap.unit, seen.gap.is), ("–", "", "absent"));
    assert_eq!((seen.gap.why, seen.gap.verdict, seen.tone), (Some(why.name()), None, None));
}

#[test]
fn a_lost_head_is_trouble_and_never_sounds() {
    let mut view = at(good(2.5), Some(Verdict::Within));
    assert!(shown(&view, Units::Mm).tone.is_some());
    view.link = LinkView::Lost { trouble: say!("The head is unplugged.") };
    let seen = shown(&view, Units::Mm);
    assert_eq!(seen.tone, None, "silence is never good");
    let trouble = seen.trouble.unwrap();
    assert!(trouble.bad && trouble.says == "The head is unplugged.");
}

/// The practice job's band is 1 to 4 mm.
#[test]
fn the_tone_tells_how_far_from_the_band_and_on_which_side() {
    for (gap_mm, verdict, off_mm, is) in [
        (0.4, Verdict::Outside, -0.6, "off"),
        (2.5, Verdict::Within, 0.0, "within"),
        // Inside, and too close to call: not told as within.
        (3.98, Verdict::Unsure, 0.0, "off"),
        (4.25, Verdict::Outside, 0.25, "off"),
    ] {
        let tone = shown(&at(good(gap_mm), Some(verdict)), Units::Mm).tone.unwrap();
        assert!((tone.off_mm - off_mm).abs() < 1e-9 && tone.is == is, "{gap_mm}: {tone:?}");
    }
    assert_eq!(shown(&at(good(2.5), None), Units::Mm).tone, None);
}

#[test]
fn the_dial_closes_as_the_gap_comes_to_its_aim_and_the_tone_stops_there() {
    for (gap_mm, share, is) in [(5.0, 0.0, "off"), (4.0, 0.5, "off"), (3.02, 1.0, "stop")] {
        let seen = shown(&turning(good(gap_mm), -0.2), Units::Mm);
        let (aim, tone) = (seen.aim.unwrap(), seen.tone.unwrap());
        assert!((aim.share - share).abs() < 1e-9, "{gap_mm}: {aim:?}");
        assert_eq!((tone.is, aim.there), (is, is == "stop"));
        assert!((tone.off_mm - (gap_mm - 3.0)).abs() < 1e-9, "positive where it is too large");
    }
    // Farther off than at the start: nothing of the way is made, and nothing below nothing.
    assert_eq!(shown(&turning(good(6.0), -0.2), Units::Mm).aim.unwrap().share, 0.0);
    let blind = shown(&turning(Reading::Absent { why: Fault::Stale }, -0.2), Units::Mm);
    let aim = blind.aim.unwrap();
    assert_eq!(
        (aim.to.as_str(), aim.to_go, aim.to_go_mm, aim.there),
        ("3.00 mm", None, None, false)
    );
    assert_eq!((aim.share, blind.tone), (0.0, None));
}

#[test]
fn one_adjuster_is_to_be_turned_and_one_that_went_too_far_turns_back() {
    for (left, clockwise) in [(-0.5, false), (0.1, true), (f64::NAN, false)] {
        let seen = shown(&turning(good(4.0), left), Units::Mm);
        let turned: Vec<_> = seen.adjusters.iter().filter(|one| one.turn.is_some()).collect();
        let [one] = turned[..] else { panic!("{turned:?}") };
        let turn = one.turn.as_ref().unwrap();
        assert_eq!((one.name.as_str(), turn.clockwise), ("left", clockwise), "{left}");
        let way = if clockwise { "clockwise" } else { "anticlockwise" };
        assert!(turn.says.ends_with(&format!(" {way}")) && turn.left.is_finite(), "{turn:?}");
    }
    assert_eq!(shown(&turning(good(4.0), -0.5), Units::Mm).adjusters.len(), 3);
}

#[test]
fn what_is_not_known_of_the_plane_is_not_known_on_the_page() {
    let mut view = turning(good(4.0), -0.2);
    let gaps = vec![Some(Mm(1.234)), None, Some(Mm(f64::NAN)), Some(Mm(4.0))];
    let image = view.image.unwrap();
    trim(&mut view).field = Some(board::Field { image, columns: 2, rows: 2, gaps });
    let field = shown(&view, Units::Mm).field.unwrap();
    assert_eq!((field.columns, field.rows), (2, 2));
    assert_eq!(field.gaps_mm, [Some(1.23), None, None, Some(4.0)]);
    let levels: Vec<(f64, &str, bool)> =
        field.levels.iter().map(|level| (level.gap_mm, level.says.as_str(), level.limit)).collect();
    let wanted =
        [(1.0, "1.00", true), (2.0, "2.00", false), (3.0, "3.00", false), (4.0, "4.00", true)];
    assert_eq!(levels, wanted, "the ends of the band, and two between");
}

/// A number that is none is shown as none: every state can be sent.
#[test]
fn nothing_that_is_no_number_keeps_a_state_from_being_sent() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for mut view in [turning(good(bad), bad), at(good(bad), Some(Verdict::Unsure))] {
            for station in &mut view.stations {
                station.at.x = Mm(bad);
            }
            if let Some(aim) = &mut view.aim {
                (aim.to, aim.within) = (Mm(bad), Mm(bad));
            }
            let [mm, inch] = [Units::Mm, Units::Inch].map(|units| shown(&view, units));
            let state = crate::State::of(&mm, &inch).unwrap();
            let back: serde_json::Value = serde_json::from_slice(&state.mm).unwrap();
            assert_eq!(back["number"], view.number);
            let text = String::from_utf8(state.mm.to_vec()).unwrap();
            assert!(!text.contains('\n'), "one line an event");
        }
    }
}

/// What a page sends back is the word that was offered.
#[test]
fn every_word_that_is_offered_comes_back_as_it_was() {
    let mut view = at(good(2.5), Some(Verdict::Within));
    let all = [
        SaidWord::Take,
        SaidWord::Redo,
        SaidWord::More,
        SaidWord::Next,
        SaidWord::Back,
        SaidWord::Go(Stop::Station(3)),
        SaidWord::Go(Stop::Emitter),
        SaidWord::Ready,
        SaidWord::Begin,
        SaidWord::Turned(None),
        SaidWord::Turned(Some(Turns(-0.25))),
        SaidWord::Yes,
        SaidWord::No,
        SaidWord::Skip,
        SaidWord::Clear,
        SaidWord::Other,
        SaidWord::Quit,
    ];
    view.words = all.iter().map(|word| Offer { word: *word, does: say!("does it") }).collect();
    // Sound is each page's own.
    for word in [SaidWord::Sound, SaidWord::Unknown] {
        view.words.push(Offer { word, does: say!("does it") });
    }
    let seen = shown(&view, Units::Mm);
    assert_eq!(seen.words.len(), all.len());
    for (offered, word) in seen.words.iter().zip(all) {
        let body = serde_json::json!({ "word": offered.word, "seen": seen.number }).to_string();
        assert_eq!(asked::word(body.as_bytes()), Ok((word, seen.number)));
    }
}

/// The straightedge of a survey is the touch plane: its gap is judged by no band.
#[test]
fn a_survey_shows_gaps_and_no_verdict() {
    let mut view = at(good(6.0), Some(Verdict::Outside));
    view.part = Part::Survey(skimgauge_procedure::view::survey::SurveyView { taken: 3, of: 9 });
    let seen = shown(&view, Units::Mm);
    assert_eq!((seen.gap.digits.as_str(), seen.gap.verdict, seen.tone), ("6.00", None, None));
    assert_eq!(seen.lines, ["3 of 9 points taken"]);
}

#[test]
fn the_walk_is_shown_with_where_the_user_is_and_where_the_head_still_hangs() {
    let mut view = at(good(2.5), None);
    if let Some(place) = &mut view.place {
        place.still_at = Some("top".to_owned());
    }
    let seen = shown(&view, Units::Mm);
    assert_eq!(seen.stations.iter().filter(|station| station.here).count(), 1);
    assert_eq!(
        seen.stations.iter().map(|s| s.index).collect::<Vec<_>>(),
        (0..seen.stations.len()).collect::<Vec<_>>()
    );
    let place = seen.place.unwrap();
    let here = seen.stations.iter().find(|station| station.here).unwrap();
    assert_eq!((place.at, place.still_at.as_deref()), (Some(here.at), Some("top")));
    // Nothing is taken: nothing is judged.
    assert!(seen.stations.iter().all(|station| station.gap.is_none() && station.verdict.is_none()));
    assert!(!seen.cautions.is_empty());
}
