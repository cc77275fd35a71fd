//! A number with what it counts.

use std::fmt::Display;

/// `1 event`, `3 events`.
pub fn count<N: Display + PartialEq + From<u8>>(number: N, one: &str) -> String {
    counted(number, one, &format!("{one}s"))
}

/// `1 branch`, `3 branches`: where many are not called by one with an `s` at its end.
pub fn counted<N: Display + PartialEq + From<u8>>(number: N, one: &str, many: &str) -> String {
    let called = if number == N::from(1) { one } else { many };
    format!("{number} {called}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_one_and_everything_else_is_many() {
        assert_eq!(count(1_u32, "event"), "1 event");
        assert_eq!(count(0_usize, "event"), "0 events");
        assert_eq!(count(-1_i64, "event"), "-1 events");
        assert_eq!(counted(1_u64, "branch", "branches"), "1 branch");
        assert_eq!(counted(21_u64, "branch", "branches"), "21 branches");
    }
}
