//! What an event says: any kind, version and payload is read or refused; what is read is written
//! and read back equal, and whether it is within the limits of a record is told without a panic. An input is the kind, the version and the payload, each after a line end.

use crate::Target;
use skimgauge_record::chain::Hash;
use skimgauge_record::{Body, limits};

/// Events.
pub const TARGET: Target = Target {
    name: "event",
    check,
    each_run: 120_000,
    words: &[
        "take\n3\n",
        "verdict\n3\n",
        "note\n2\n",
        "section\n2\n",
        "\"",
        "null",
        "1e308",
        "-0.0",
        "{",
        "}",
        "[]",
        "18446744073709551615",
        "\\u0000",
        "\"supersedes\":",
        "within",
        "as-found",
    ],
};

fn check(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else { return };
    let mut parts = text.splitn(3, '\n');
    let (Some(kind), Some(version), Some(payload)) = (parts.next(), parts.next(), parts.next())
    else {
        return;
    };
    let Ok(version) = version.trim().parse::<u32>() else { return };
    let earlier = [Hash::of(b"first"), Hash::of(b"second")];
    let body = match Body::read(kind, version, payload, &earlier) {
        Ok(body) => body,
        Err(why) => {
            assert!(!why.is_empty() && why.len() < payload.len() + 400, "{why}");
            return;
        }
    };
    let again = match body.payload() {
        Ok(again) => again,
        // A number that JSON cannot say.
        Err(_) => return,
    };
    let back = Body::read(body.kind(), body.version(), &again, &earlier);
    assert_eq!(back.as_ref(), Ok(&body), "what is written is read back equal");
    if let Body::Unknown(unknown) = &body {
        assert_eq!(unknown.payload, payload, "what is not known is kept byte for byte");
    }
    // Refused or not: without a panic.
    let _ = limits::check(&body, &again);
}
