//! Starts in a row that ended, by a panic or a hang, before a host had found the head. An image that
//! does nothing else cannot be asked into the boot loader: after [`MOST`] of them the head goes there
//! by itself, so that nobody has to take it down and open it.
//!
//! The count is kept in a register that outlives a restart and not a loss of power.

/// So many, and the boot loader is next.
pub const MOST: u8 = 3;

/// Above the count in the register: what chance leaves there is no count.
const TAG: u32 = 0x5354_5200;

/// What the register holds once a host has found the head.
pub const FOUND: u32 = TAG;

/// What a start means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// Go on, with this in the register.
    GoOn(u32),
    /// Into the boot loader, with this in the register: the next start is a first one.
    Loader(u32),
}

/// At a start: what the register holds, and whether the start before ended by a panic or a hang.
pub fn on_start(register: u32, ended_badly: bool) -> Start {
    let before = match register {
        _ if !ended_badly => 0,
        register if register & !0xFF == TAG => (register & 0xFF) as u8,
        _ => 0,
    };
    if before >= MOST { Start::Loader(TAG) } else { Start::GoOn(TAG | u32::from(before + 1)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn register(start: Start) -> u32 {
        match start {
            Start::GoOn(register) => register,
            Start::Loader(_) => panic!("the boot loader"),
        }
    }

    #[test]
    fn three_bad_ends_in_a_row_lead_to_the_boot_loader() {
        let mut held = register(on_start(0xDEAD_BEEF, false));
        for _ in 0..2 {
            held = register(on_start(held, true));
        }
        let Start::Loader(held) = on_start(held, true) else { panic!("went on") };
        // From there on it is as after power came.
        assert!(matches!(on_start(held, false), Start::GoOn(_)));
        assert!(matches!(on_start(held, true), Start::GoOn(_)));
    }

    #[test]
    fn a_host_that_found_the_head_begins_the_count_anew() {
        let mut held = 0;
        for _ in 0..20 {
            held = register(on_start(held, true));
            held = register(on_start(held, true));
            assert!(held != FOUND);
            held = FOUND;
        }
    }

    #[test]
    fn chance_in_the_register_and_an_ordinary_restart_count_nothing() {
        for held in [0, u32::MAX, 3, TAG ^ 0x100, TAG | 0xFF] {
            assert_eq!(on_start(held, false), Start::GoOn(TAG | 1));
        }
        assert_eq!(on_start(u32::MAX, true), Start::GoOn(TAG | 1));
    }
}
