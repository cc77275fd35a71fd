//! Lengths, angles, temperatures and turns: read as people write them, told as people read them.
//! Pure.
//!
//! - [`Mm`], [`MmPerM`], [`Deg`], [`Celsius`], [`Turns`]: one type a unit, with the arithmetic that
//!   makes sense. In JSON each is its bare number, under a key that says the unit, as before.
//! - [`Band`]: what a quantity may be.
//! - [`read`](mod@read): `93 3/8 in`, `6'-2 1/2"`, `0,5 mm`; what cannot be read is refused with
//!   what is expected.
//! - [`Figure`]: a number with what it is for, from which its digits follow in mm and in inches
//!   (the table in [`figure`]).
//! - [`Sentence`] and [`say!`]: words, quantities and names, made into text last, in the [`Style`]
//!   asked for.
//!
//! Nothing looks for numbers in finished English, so what a person wrote passes through as it is.
//!
//! # How a place where things are said looks
//!
//! ```
//! use skimgauge_quantity::{Band, Mm, Name, Sentence, Side, Style, Turns, Units, say};
//!
//! /// One judged point, for a verdict's reason.
//! fn point(name: Name<'_>, gap: Mm, expanded: Mm, band: Band<Mm>) -> Sentence {
//!     let stands = match band.side(gap) {
//!         Some(Side::Below) => say!("{} below the band", band.beyond(gap).gap()),
//!         Some(Side::Above) => say!("{} above the band", band.beyond(gap).gap()),
//!         Some(Side::Inside) => say!("{} inside the band", band.inside(gap).gap()),
//!         None => say!("not judged"),
//!     };
//!     say!("{name}: {}, {stands}", gap.gap().give_or_take(expanded.uncertainty()))
//! }
//!
//! /// What to do, in one line.
//! fn turn(adjuster: Name<'_>, turns: Turns, station: Name<'_>, dial_to: Mm) -> Sentence {
//!     say!("turn {adjuster} {}, until {station} reads {}", turns.in_words(), dial_to.gap())
//! }
//!
//! /// A slope over the image.
//! fn slope(from: &str, to: &str, by: Mm) -> Sentence {
//!     if by.abs() < Mm(0.05) {
//!         return say!("from {from} to {to} it keeps its distance");
//!     }
//!     let way = if by > Mm::ZERO { "farther off" } else { "nearer" };
//!     say!("from {from} to {to} it comes {} {way}", by.abs().gap())
//! }
//!
//! let band = Band { low: Mm(1.0), high: Mm(4.0) };
//! let shelf = Name("shelf at 100 mm");
//! let said = point(shelf, Mm(5.08), Mm(0.1), band);
//! assert_eq!(said.text(Style::typed(Units::Mm)), "shelf at 100 mm: 5.08 ± 0.10 mm, 1.08 mm above the band");
//! assert_eq!(said.text(Style::typed(Units::Inch)), "shelf at 100 mm: 0.200 ± 0.004 in, 0.043 in above the band");
//!
//! let said = turn(Name("upper"), Turns(-0.72), shelf, Mm(2.5));
//! assert_eq!(
//!     said.text(Style::default()),
//!     "turn upper nearly three quarters of a turn anticlockwise, until shelf at 100 mm reads 2.50 mm"
//! );
//! assert_eq!(slope("top", "bottom", Mm(2.4)).text(Style::default()), "from top to bottom it comes 2.40 mm farther off");
//! ```
//!
//! An error that a person sees says itself in the same way, and its `Display` is that in
//! millimetres:
//!
//! ```
//! use skimgauge_quantity::{Mm, Sentence, Style, Tell, Units, say, told_in_mm};
//!
//! #[derive(Debug)]
//! struct TooHigh {
//!     image: Mm,
//!     ceiling: Mm,
//! }
//!
//! impl Tell for TooHigh {
//!     fn tell(&self) -> Sentence {
//!         say!("the image is {} high and the room {}: choose a smaller image", self.image.wall(), self.ceiling.wall())
//!     }
//! }
//!
//! told_in_mm!(TooHigh);
//!
//! let wrong = TooHigh { image: Mm(2600.0), ceiling: Mm(2400.0) };
//! assert_eq!(wrong.to_string(), "the image is 2600 mm high and the room 2400 mm: choose a smaller image");
//! assert!(wrong.tell().text(Style::typed(Units::Inch)).starts_with("the image is 102 3/8 in high"));
//! ```
//!
//! A column has one style: cells by [`Figure::cell`] where all its figures have one purpose, else
//! by [`column()`].
//!
//! ```
//! use skimgauge_quantity::{Mm, Style, Units, column};
//!
//! let inch = Style::typed(Units::Inch);
//! assert_eq!(column([Some(Mm(12.7).tape()), None, Some(Mm(2025.0).tape())], inch), ["1/2", "-", "79 23/32"]);
//! ```
//!
//! A length cannot be said without its purpose, nor can a bare number:
//!
//! ```compile_fail
//! use skimgauge_quantity::{Mm, say};
//! let gap = Mm(2.4);
//! say!("{gap} at the top");
//! ```
//!
//! ```compile_fail
//! skimgauge_quantity::say!("{} at the top", 2.4);
//! ```

extern crate self as skimgauge_quantity;

mod band;
mod chance;
mod count;
mod digits;
pub mod figure;
pub mod read;
mod sentence;
mod shown;
mod style;
mod turning;
mod unit;

pub use band::{Band, Side};
pub use chance::{at_most, in_ten, share};
pub use count::{count, counted};
pub use figure::{Figure, Pair, column, force, mass, percent, plain, short};
pub use read::{Kind, Unread};
pub use sentence::{Name, Say, Sentence, Told, parts};
pub use shown::{shown, shown_json, shown_lines, steers};
pub use skimgauge_say::say;
pub use style::{Signs, Style, Units};
pub use turning::Rotation;
pub use unit::{Celsius, Deg, Kelvin, MM_PER_INCH, Magnitude, Mm, MmPerM, Quantity, Turns};

/// What can be told to a person in a sentence with quantities in it: errors, findings, remedies.
pub trait Tell {
    /// What is the matter, and what to do.
    fn tell(&self) -> Sentence;
}

/// `Display` and `Error` for types that [`Tell`]: their sentence in millimetres.
#[macro_export]
macro_rules! told_in_mm {
    ($($told:ty),+ $(,)?) => {
        $(
            impl ::std::fmt::Display for $told {
                fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                    f.write_str(&$crate::Tell::tell(self).text($crate::Style::default()))
                }
            }

            impl ::std::error::Error for $told {}
        )+
    };
}
