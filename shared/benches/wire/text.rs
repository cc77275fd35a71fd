//! Text, a line a reading.

use crate::Way;
use crate::flat::Flat;
use skimgauge_shared::check::crc32;
use std::io::Write;

pub(crate) fn csv() -> Vec<Way> {
    vec![
        Way {
            name: "CSV text",
            framing: "line feed",
            encode: |reading, _, out| {
                csv_line(&Flat::from(*reading), out);
                out.push(b'\n');
            },
            decode: |bytes, out| {
                lines(bytes, false, |line| out.extend(csv_read(line).and_then(Flat::reading)));
            },
        },
        Way {
            name: "CSV text",
            framing: "CRC-32 in hex, line feed",
            encode: |reading, _, out| {
                let from = out.len();
                csv_line(&Flat::from(*reading), out);
                checked_line(from, out);
            },
            decode: |bytes, out| {
                lines(bytes, true, |line| out.extend(csv_read(line).and_then(Flat::reading)));
            },
        },
    ]
}

pub(crate) fn json() -> Vec<Way> {
    const OK: &str = "a vector takes every byte";
    vec![
        Way {
            name: "JSON lines",
            framing: "line feed",
            encode: |reading, _, out| {
                serde_json::to_writer(&mut *out, &Flat::from(*reading)).expect(OK);
                out.push(b'\n');
            },
            decode: |bytes, out| {
                lines(bytes, false, |line| {
                    out.extend(serde_json::from_str::<Flat>(line).ok().and_then(Flat::reading));
                });
            },
        },
        Way {
            name: "JSON lines",
            framing: "CRC-32 in hex, line feed",
            encode: |reading, _, out| {
                let from = out.len();
                serde_json::to_writer(&mut *out, &Flat::from(*reading)).expect(OK);
                checked_line(from, out);
            },
            decode: |bytes, out| {
                lines(bytes, true, |line| {
                    out.extend(serde_json::from_str::<Flat>(line).ok().and_then(Flat::reading));
                });
            },
        },
    ]
}

fn checked_line(from: usize, out: &mut Vec<u8>) {
    let check = crc32(&out[from..]);
    writeln!(out, "*{check:08X}").expect("a vector takes every byte");
}

/// Every line, its checksum checked where it has one.
fn lines(bytes: &[u8], checked: bool, mut each: impl FnMut(&str)) {
    for line in bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        let Ok(line) = std::str::from_utf8(line) else { continue };
        if !checked {
            each(line);
        } else if let Some((body, check)) = line.rsplit_once('*')
            && u32::from_str_radix(check, 16) == Ok(crc32(body.as_bytes()))
        {
            each(body);
        }
    }
}

fn csv_line(flat: &Flat, out: &mut Vec<u8>) {
    let [s, e, t] = flat.absent.unwrap_or_default();
    write!(out, "{},{},", flat.sequence, flat.at_low_us).expect("a vector takes every byte");
    let mut field = |value: Option<i32>, why: u8, end: &str| match value {
        Some(value) => write!(out, "{value}{end}").expect("a vector takes every byte"),
        None => write!(out, "!{why}{end}").expect("a vector takes every byte"),
    };
    field(flat.stand_off_um, s, ",");
    field(flat.middle_um, e, ",");
    field(flat.level_steps.map(i32::from), t, ",");
    field(flat.lean_steps.map(i32::from), t, ",");
    write!(out, "{}", flat.state).expect("a vector takes every byte");
}

fn csv_read(line: &str) -> Option<Flat> {
    let mut fields = line.split(',');
    let mut flat = Flat {
        sequence: fields.next()?.parse().ok()?,
        at_low_us: fields.next()?.parse().ok()?,
        stand_off_um: None,
        middle_um: None,
        level_steps: None,
        lean_steps: None,
        absent: None,
        state: 0,
    };
    let mut absent = [0; 3];
    let mut field = |channel: usize| -> Option<Option<i32>> {
        let field = fields.next()?;
        match field.strip_prefix('!') {
            Some(why) => {
                absent[channel] = why.parse().ok()?;
                Some(None)
            }
            None => Some(Some(field.parse().ok()?)),
        }
    };
    flat.stand_off_um = field(0)?;
    flat.middle_um = field(1)?;
    flat.level_steps = field(2)?.map(i16::try_from).transpose().ok()?;
    flat.lean_steps = field(2)?.map(i16::try_from).transpose().ok()?;
    flat.state = fields.next()?.parse().ok()?;
    flat.absent = (absent != [0; 3]).then_some(absent);
    Some(flat)
}
