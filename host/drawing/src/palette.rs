//! The colours, light and dark: one list for the page's style, the charts and the PDF.
//!
//! Light is also what is printed. Where colour tells something, a word and a shape tell it too. The
//! ends of the gap map are violet and orange, which the common kinds of colour blindness keep
//! apart; `tests/contrast.rs` computes the contrasts.

/// A named colour: its custom property's name in the style, and its value in light and in dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour {
    /// Name of the custom property, without its two hyphens; also the class in charts (`f-` fills,
    /// `s-` strokes).
    pub name: &'static str,
    /// `#rrggbb` on paper and light screens.
    pub light: &'static str,
    /// `#rrggbb` on dark screens.
    pub dark: &'static str,
}

macro_rules! colours {
    ($($(#[$doc:meta])* $constant:ident = $name:literal, $light:literal, $dark:literal;)*) => {
        $($(#[$doc])* pub const $constant: Colour = Colour { name: $name, light: $light, dark: $dark };)*
        /// All of them.
        pub const ALL: &[Colour] = &[$($constant),*];
    };
}

colours! {
    /// Behind everything.
    PAPER = "paper", "#ffffff", "#12181d";
    /// Behind what is set off.
    PANEL = "panel", "#f2f5f4", "#1c252b";
    /// Text.
    INK = "ink", "#17222b", "#e6ecee";
    /// Text that steps back.
    SOFT = "soft", "#4b5963", "#a9b7be";
    /// Lines between things.
    RULE = "rule", "#c5ced2", "#3a474f";
    /// The touch plane, links and what is drawn to be looked at.
    BEAM = "beam", "#0a6a6f", "#5fc4c4";
    /// Within.
    WITHIN = "within", "#1b5c93", "#8fc1ee";
    /// Outside.
    OUTSIDE = "outside", "#a33700", "#ffa26e";
    /// Too close to call.
    UNSURE = "unsure", "#675000", "#dcbd5a";
    /// Gap map: below the band.
    GAP_0 = "gap0", "#8775b8", "#6a56a8";
    /// Gap map: lowest fifth of the band.
    GAP_1 = "gap1", "#c6bde0", "#40365f";
    /// Gap map: second fifth.
    GAP_2 = "gap2", "#e6e2f1", "#2c2a3c";
    /// Gap map: middle of the band.
    GAP_3 = "gap3", "#f6f6f3", "#20262a";
    /// Gap map: fourth fifth.
    GAP_4 = "gap4", "#fbe6cc", "#3a2f22";
    /// Gap map: highest fifth of the band.
    GAP_5 = "gap5", "#f3c58d", "#5a4122";
    /// Gap map: above the band.
    GAP_6 = "gap6", "#d58a36", "#9a621f";
}

/// Gap map colours from below the band to above it.
pub const GAPS: [Colour; 7] = [GAP_0, GAP_1, GAP_2, GAP_3, GAP_4, GAP_5, GAP_6];

/// The style's custom properties: light for all, dark for screens that ask for it.
pub fn style() -> String {
    let list = |value: fn(&Colour) -> &'static str| -> String {
        ALL.iter().map(|colour| format!("--{}:{};", colour.name, value(colour))).collect()
    };
    let classes: String = ALL
        .iter()
        .map(|colour| {
            let name = colour.name;
            format!(".f-{name}{{fill:var(--{name})}}.s-{name}{{stroke:var(--{name})}}")
        })
        .collect();
    format!(
        ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n{classes}\n",
        list(|colour| colour.light),
        list(|colour| colour.dark),
    )
}
