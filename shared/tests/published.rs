//! CRC, COBS and `postcard` against their publications.

use skimgauge_shared::check::crc32;

/// CRC-32/ISO-HDLC: the check value of the CRC catalogue (reveng), "123456789"; further values
/// computed with two independent implementations (crates `crc-catalog` 2.5, PyPI `fastcrc` 0.5).
#[test]
fn crc32_check_values() {
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    assert_eq!(crc32(&[0]), 0xD202_EF8D);
    assert_eq!(crc32(&[0xFF]), 0xFF00_0000);
    assert_eq!(crc32(&[0; 4]), 0x2144_DF1C);
    assert_eq!(crc32(&[0; 32]), 0x190A_55AD);
    let all: Vec<u8> = (0..=255).collect();
    assert_eq!(crc32(&all), 0x2905_8C73);
}

/// COBS examples: tests of PyPI `cobs` 1.2.2, and the packet of Cheshire & Baker 1999 (the packet
/// from memory).
#[test]
fn cobs_examples() {
    let examples: &[(&[u8], &[u8])] = &[
        (&[0], &[1, 1]),
        (&[0, 0], &[1, 1, 1]),
        (b"12345\x006789", b"\x0612345\x056789"),
        (b"\x0012345\x006789", b"\x01\x0612345\x056789"),
        (b"12345\x006789\x00", b"\x0612345\x056789\x01"),
        (
            &[0x45, 0, 0, 0x2C, 0x4C, 0x79, 0, 0, 0x40, 6, 0x4F, 0x37],
            &[2, 0x45, 1, 4, 0x2C, 0x4C, 0x79, 1, 5, 0x40, 6, 0x4F, 0x37],
        ),
    ];
    for (plain, encoded) in examples {
        let mut buffer = [0; 64];
        let length = cobs::encode(plain, &mut buffer);
        assert_eq!(&buffer[..length], *encoded);
        let length = cobs::decode_in_place(&mut buffer[..length]).unwrap();
        assert_eq!(&buffer[..length], *plain);
    }
    for invalid in [&[0_u8][..], b"\x05123", b"\x051234\x00", b"\x0512\x004"] {
        let mut buffer = invalid.to_vec();
        let decoded = cobs::decode_in_place(&mut buffer);
        // A zero inside cannot reach the decoder: it is the separator.
        assert!(decoded.is_err() || invalid.contains(&0), "{invalid:?}");
    }
}

/// The examples of postcard's specification (spec/src/wire-format.md).
#[test]
fn postcard_wire_examples() {
    let unsigned: &[(u16, &[u8])] = &[
        (0, &[0]),
        (127, &[0x7F]),
        (128, &[0x80, 1]),
        (16_383, &[0xFF, 0x7F]),
        (16_384, &[0x80, 0x80, 1]),
        (65_535, &[0xFF, 0xFF, 3]),
    ];
    for (value, bytes) in unsigned {
        assert_eq!(postcard::to_stdvec(value).unwrap(), *bytes);
        assert_eq!(postcard::from_bytes::<u16>(bytes).unwrap(), *value);
    }
    let signed: &[(i16, &[u8])] = &[
        (0, &[0]),
        (-1, &[1]),
        (1, &[2]),
        (63, &[0x7E]),
        (-64, &[0x7F]),
        (64, &[0x80, 1]),
        (-65, &[0x81, 1]),
        (32_767, &[0xFE, 0xFF, 3]),
        (-32_768, &[0xFF, 0xFF, 3]),
    ];
    for (value, bytes) in signed {
        assert_eq!(postcard::to_stdvec(value).unwrap(), *bytes);
    }
    assert!(postcard::from_bytes::<u16>(&[0xFF, 0xFF, 7]).is_err());
}
