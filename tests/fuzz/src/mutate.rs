//! Changed inputs from numbers that are the same in every run.

use skimgauge_numbers::Numbers;

/// No changed input is longer.
const LONGEST: usize = 64 * 1024;
/// Bytes at which arithmetic turns.
const EDGES: [u8; 8] = [0, 1, 0x7F, 0x80, 0xFE, 0xFF, b'0', b'"'];

/// An input of the corpus with one to eight changes.
pub fn changed(numbers: &mut Numbers, corpus: &[(String, Vec<u8>)], words: &[&str]) -> Vec<u8> {
    let pick = |numbers: &mut Numbers| match corpus {
        [] => &[],
        some => some[numbers.below(some.len())].1.as_slice(),
    };
    let mut input = pick(numbers).to_vec();
    for _ in 0..1 << numbers.below(4) {
        let at = numbers.below(input.len() + 1);
        match numbers.below(8) {
            0 => flip(numbers, &mut input),
            1 => set(numbers, &mut input),
            2 => drop(input.drain(stretch(numbers, input.len()))),
            3 => {
                let again = input[stretch(numbers, input.len())].to_vec();
                drop(input.splice(at..at, again));
            }
            4 => {
                let other = pick(numbers);
                let part = other[stretch(numbers, other.len())].to_vec();
                let over = at..(at + numbers.below(part.len() + 1)).min(input.len());
                drop(input.splice(over, part));
            }
            5 | 6 if !words.is_empty() => {
                let word = words[numbers.below(words.len())].bytes();
                let over = at..(at + numbers.below(4)).min(input.len());
                drop(input.splice(over, word));
            }
            _ => {
                let byte = numbers.bits() as u8;
                let count = 1 + numbers.below(9);
                drop(input.splice(at..at, std::iter::repeat_n(byte, count)));
            }
        }
    }
    input.truncate(LONGEST);
    input
}

fn flip(numbers: &mut Numbers, input: &mut [u8]) {
    let at = numbers.below(input.len());
    if let Some(byte) = input.get_mut(at) {
        *byte ^= 1 << numbers.below(8);
    }
}

fn set(numbers: &mut Numbers, input: &mut [u8]) {
    let at = numbers.below(input.len());
    if let Some(byte) = input.get_mut(at) {
        *byte = EDGES[numbers.below(EDGES.len())];
    }
}

/// Some of so many bytes: short ones more often than long ones.
fn stretch(numbers: &mut Numbers, length: usize) -> std::ops::Range<usize> {
    let from = numbers.below(length + 1);
    let longest = [4, 16, 64, length][numbers.below(4)];
    from..(from + numbers.below(longest + 1)).min(length)
}
