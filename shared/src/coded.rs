//! What has a number of its own on the wire.

/// An enum whose numbers are the wire's and never change their meaning; any other number is refused,
/// with `$unknown`.
macro_rules! coded {
    (
        $unknown:literal;
        $(#[$about:meta])*
        pub enum $enum:ident { $($(#[$doc:meta])* $name:ident = $code:literal),* $(,)? }
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[serde(into = "u8", try_from = "u8")]
        #[repr(u8)]
        pub enum $enum { $($(#[$doc])* $name = $code),* }

        impl $enum {
            /// Every one there is.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// The one with this number on the wire.
            pub const fn from_code(code: u8) -> Option<Self> {
                match code { $($code => Some(Self::$name),)* _ => None }
            }
        }

        impl From<$enum> for u8 {
            fn from(coded: $enum) -> Self {
                coded as u8
            }
        }

        impl TryFrom<u8> for $enum {
            type Error = &'static str;

            fn try_from(code: u8) -> Result<Self, Self::Error> {
                Self::from_code(code).ok_or($unknown)
            }
        }
    };
}

pub(crate) use coded;
