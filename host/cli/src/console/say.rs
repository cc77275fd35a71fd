//! `println!`, `print!` and `eprintln!` of this crate: names of jobs, stations and files, notes and
//! quoted input come from files that somebody else may have written, and none of them may move the
//! cursor, clear the screen or turn words round.
//!
//! They stand in the place of the standard ones, so that nobody has to remember it.

/// A line on standard output.
macro_rules! println {
    () => { ::std::println!() };
    ($($what:tt)*) => { ::skimgauge_system::terminal::say(::std::format_args!("{}\n", ::std::format_args!($($what)*))) };
}

/// Text on standard output.
macro_rules! print {
    ($($what:tt)*) => { ::skimgauge_system::terminal::say(::std::format_args!($($what)*)) };
}

/// A line on standard error.
macro_rules! eprintln {
    ($($what:tt)*) => { ::skimgauge_system::terminal::complain(&::std::format!($($what)*)) };
}
