//! The live view in a browser: on the board itself, at true scale, and on the phone of whoever is
//! on the ladder.
//!
//! [`Page`] is a small server on a thread of its own. It is given one [`State`] after another (the
//! newest counts, none is queued) and hands over what people say as [`Heard`]. Neither ever waits:
//! the measuring loop calls [`Page::show`] and [`Page::heard`] and goes on.
//!
//! | part | what | I/O |
//! | --- | --- | --- |
//! | [`shown`], `told` | what a page shows, a View as plain data: texts finished, places in mm | no |
//! | `key` | who may look, who may act | chance |
//! | `admit` | Host, Origin, key, route, in this order, before anything else is read | no |
//! | `allowance` | how often an address may ask, on a clock that is passed in | no |
//! | `asked` | what was sent: words, notes, the answers about the frame | no |
//! | [`photo`] | a picture without the places in its data, as it streams by | no |
//! | [`steps`] | the job's steps, as a page shows them | no |
//! | `qr` | an address as a code for a camera | no |
//! | `files` | the pages themselves | no |
//! | `server` | sockets, timers, the event stream | yes |
//!
//! What a browser gets and sends:
//!
//! | request | key | what |
//! | --- | --- | --- |
//! | `GET /board`, `/phone`, `/files/…` | none | the pages; nothing secret is in them |
//! | `GET /hello` | looks | what this key may do, and the code for others |
//! | `GET /state?page=phone&units=mm` | looks | an event stream: every state whole, a line at least twice a second |
//! | `GET /steps` | looks | the job's steps, and what comes next |
//! | `POST /word` | acts | a word, with the number of the state that its speaker saw |
//! | `POST /note` | acts | a note for the job |
//! | `GET /proof` | none | the touch proof's page |
//! | `POST /strokes` | acts | what touched there, at most 64 KB |
//! | `POST /frame` | acts | whether the image is whole and true, as taped |
//! | `POST /taped` | acts | one of the lengths that are asked for |
//! | `POST /photo` | acts | a picture, at most 16 MB, streamed |
//!
//! The key stands behind the `#` of the address, which no browser sends; the page takes it out of
//! the address bar and sends it as `Authorization`. There is no cookie.

mod admit;
mod allowance;
mod asked;
mod files;
mod key;
pub mod photo;
mod proof;
mod qr;
mod refusal;
mod server;
pub mod shown;
pub mod steps;
mod told;

pub use admit::Watching;
pub use asked::{Act, Frame, Taped};
pub use key::Role;
pub use proof::proof;
pub use qr::in_terminal;
pub use refusal::Refusal;
pub use server::{
    Arrived, From, Heard, Limits, Links, Page, PageError, Settings, State, lan_address,
};
pub use told::shown as told;
