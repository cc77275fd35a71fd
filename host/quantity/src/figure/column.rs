//! Figures under one another.

use super::{Figure, Purpose};
use crate::digits::Digits;
use crate::style::Style;

/// Numbers for a column, without their unit, in one style: fractions or decimals, never both. A
/// cell without a figure gets [`Style::none`].
pub fn column(figures: impl IntoIterator<Item = Option<Figure>>, style: Style) -> Vec<String> {
    let figures: Vec<Option<Figure>> = figures.into_iter().collect();
    let digits = || {
        figures
            .iter()
            .flatten()
            .filter(|figure| !figure.is_word(style))
            .map(|figure| figure.digits(style))
    };
    let is_fraction = |digits: &Digits| matches!(digits, Digits::Fraction(_));
    let mixed = digits().any(|d| is_fraction(&d)) && !digits().all(|d| is_fraction(&d));
    let most = figures.iter().flatten().filter(|figure| figure.show == Purpose::Uncertainty);
    let most = most.filter_map(|figure| match figure.digits(style) {
        Digits::Fixed(decimals) => Some(decimals),
        _ => None,
    });
    let most = most.max().unwrap_or(0);
    let cell = |figure: Figure| {
        let digits = match figure.show {
            _ if figure.is_word(style) => return figure.number(style),
            Purpose::Amount | Purpose::Turning => return figure.number(style),
            Purpose::Uncertainty => Digits::Fixed(most),
            Purpose::Force => Digits::Fixed(0),
            _ if mixed => figure.digits(style).as_decimals(),
            _ => figure.digits(style),
        };
        digits.for_column().of(figure.shown(style), figure.signed, style)
    };
    figures.iter().map(|figure| figure.map_or_else(|| style.none().to_owned(), cell)).collect()
}
