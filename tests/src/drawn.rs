//! What stands on a terminal after everything that was written on it: as much of xterm's control
//! sequences as the commands use (cursor to a place, clear, the alternate screen).

/// The characters of a terminal of this size, row by row.
pub fn drawn(written: &str, (columns, rows): (usize, usize)) -> Vec<String> {
    let blank = || vec![vec![' '; columns]; rows];
    let (mut cells, mut at) = (blank(), (0, 0));
    let mut left = written.chars().peekable();
    while let Some(char) = left.next() {
        match char {
            '\x1b' if left.peek() == Some(&'[') => {
                left.next();
                let mut numbers = String::new();
                let last = loop {
                    match left.next() {
                        Some(last @ '@'..='~') => break last,
                        Some(part) => numbers.push(part),
                        None => return lines(&cells),
                    }
                };
                match (last, numbers.as_str()) {
                    ('H', place) => at = placed(place),
                    ('J', "2") | ('h' | 'l', "?1049") => (cells, at) = (blank(), (0, 0)),
                    _ => (),
                }
            }
            '\n' => at.0 += 1,
            '\r' => at.1 = 0,
            char if char.is_control() => (),
            char => {
                if let Some(cell) = cells.get_mut(at.0).and_then(|row| row.get_mut(at.1)) {
                    *cell = char;
                }
                at.1 += 1;
            }
        }
    }
    lines(&cells)
}

/// Row and column, from one, as they are written.
fn placed(place: &str) -> (usize, usize) {
    let mut numbers = place.split(';').map(|number| number.parse().unwrap_or(1_usize).max(1) - 1);
    (numbers.next().unwrap_or(0), numbers.next().unwrap_or(0))
}

fn lines(cells: &[Vec<char>]) -> Vec<String> {
    cells.iter().map(|row| row.iter().collect::<String>().trim_end().to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::drawn;

    #[test]
    fn what_is_written_over_is_gone_and_what_is_not_stays() {
        let written = "before\x1b[?1049h\x1b[2J\x1b[1;1Hone\x1b[31mtwo\x1b[0m\x1b[2;3Hx\x1b[1;2HN";
        assert_eq!(drawn(written, (10, 3)), ["oNetwo", "  x", ""]);
        assert_eq!(drawn("\x1b[?1049habc\x1b[?1049lend\r\nlast", (10, 2)), ["end", "last"]);
    }
}
