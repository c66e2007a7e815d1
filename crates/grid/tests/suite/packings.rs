//! Packings and bitmaps that no shared file holds, built by hand. Source: WMO FM 92 GRIB edition 2, templates 5.x and 7.x.

use crate::built::{Built, BuiltField, representation};
use crate::common::{messages, shared};
use forecast::{Gap, Sample};
use grid::Fault;

fn field(representation: Vec<u8>, packed_values: u32, bitmap: Vec<u8>, data: Vec<u8>) -> BuiltField {
    BuiltField {
        representation,
        packed_values,
        bitmap,
        data,
    }
}

fn whole(values: &[f32]) -> Vec<Sample> {
    values.iter().map(|&value| Ok(value)).collect()
}

fn png(width: u32, colour: png::ColorType, depth: png::BitDepth, row: &[u8]) -> Vec<u8> {
    let mut image = Vec::new();
    let mut encoder = png::Encoder::new(&mut image, width, 1);
    encoder.set_color(colour);
    encoder.set_depth(depth);
    encoder.write_header().unwrap().write_image_data(row).unwrap();
    image
}

#[test]
fn png_samples_are_as_wide_as_the_image_says_whatever_section_5_says() {
    use png::{BitDepth::*, ColorType::*};
    let cases: [(png::ColorType, png::BitDepth, &[u8], [f32; 4]); 7] = [
        (Grayscale, One, &[0b1010_0000], [1.0, 0.0, 1.0, 0.0]),
        (Grayscale, Two, &[0b11_10_01_00], [3.0, 2.0, 1.0, 0.0]),
        (Grayscale, Four, &[0xf0, 0x5a], [15.0, 0.0, 5.0, 10.0]),
        (Grayscale, Eight, &[255, 0, 1, 128], [255.0, 0.0, 1.0, 128.0]),
        (
            Grayscale,
            Sixteen,
            &[0x0f, 0xff, 0, 1, 0xff, 0xff, 1, 0],
            [4095.0, 1.0, 65535.0, 256.0],
        ),
        (
            Rgb,
            Eight,
            &[1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0],
            [65536.0, 256.0, 1.0, 0.0],
        ),
        (
            Rgba,
            Eight,
            &[0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0],
            [65536.0, 256.0, 1.0, 0.0],
        ),
    ];
    for (colour, depth, row, expected) in cases {
        for bits in [1, 11, 12, 16] {
            let image = png(4, colour, depth, row);
            let built = Built::row(4, field(representation(41, 0.0, 0, 0, bits), 4, vec![255], image));
            assert_eq!(
                built.values(0).unwrap(),
                whole(&expected),
                "{colour:?} {depth:?} with {bits} bits stated"
            );
        }
    }
}

#[test]
fn png_of_another_size_or_kind_is_refused() {
    let image = png(5, png::ColorType::Grayscale, png::BitDepth::Eight, &[0; 5]);
    let built = Built::row(4, field(representation(41, 0.0, 0, 0, 8), 4, vec![255], image));
    assert_eq!(built.values(0).unwrap_err().section, Some(7));
    let image = png(4, png::ColorType::GrayscaleAlpha, png::BitDepth::Eight, &[0; 8]);
    let built = Built::row(4, field(representation(41, 0.0, 0, 0, 8), 4, vec![255], image));
    assert_eq!(built.values(0).unwrap_err().section, Some(7));
}

// Source: ecCodes 2.50.0, which both writes a constant 75 with D = 1 as R = 75 and reads it back so, in templates 5.0,
// 5.40 and 5.42; template 5.41 follows from memory of the other library in wide use. Without groups it divides.
#[test]
fn zero_bits_give_the_reference_value_undivided() {
    for template in [0, 40, 41, 42] {
        let mut five = representation(template, 75.0, 3, 1, 0);
        five.extend([0; 4]);
        let built = Built::row(4, field(five, 3, vec![0, 0b1011_0000], Vec::new()));
        assert_eq!(
            built.values(0).unwrap(),
            [Ok(75.0), Err(Gap::Masked), Ok(75.0), Ok(75.0)],
            "template 5.{template}"
        );
    }
}

/// Octets 22 to 49 of templates 5.2 and 5.3: no groups.
fn no_groups(template: u16, missing: u8) -> Vec<u8> {
    let mut five = representation(template, -40.0, 0, 1, 0);
    five.extend([1, missing]);
    five.extend([0; 8]);
    five.extend([0; 16]);
    five.extend([1, 0]);
    five
}

#[test]
fn complex_packing_without_groups_is_constant() {
    for template in [2, 3] {
        let built = Built::row(3, field(no_groups(template, 0), 3, vec![255], Vec::new()));
        assert_eq!(built.values(0).unwrap(), whole(&[-4.0; 3]));
        let unclear = Built::row(3, field(no_groups(template, 1), 3, vec![255], Vec::new()));
        assert!(matches!(
            unclear.values(0).unwrap_err().what,
            Fault::UnsupportedFeature(_)
        ));
    }
}

#[test]
fn groups_that_promise_more_than_there_is_are_refused_before_decoding() {
    let mut five = representation(2, 0.0, 0, 0, 8);
    five.extend([1, 0]);
    five.extend([0; 8]);
    five.extend(2_u32.to_be_bytes());
    // Widths of zero bits from 0, lengths from 4 billion: 34 GB of values in a handful of octets.
    five.extend([0, 0]);
    five.extend(u32::MAX.to_be_bytes());
    five.push(255);
    five.extend(u32::MAX.to_be_bytes());
    five.push(8);
    let built = Built::row(3, field(five, 3, vec![255], vec![0; 8]));
    let damage = built.values(0).unwrap_err();
    assert_eq!((damage.message, damage.section), (Some(1), Some(7)), "{damage}");
}

#[test]
fn a_bitmap_may_refer_to_the_one_before_it_in_the_message() {
    let plain = |bitmap: Vec<u8>, data: Vec<u8>| field(representation(0, 0.0, 0, 0, 8), 2, bitmap, data);
    let mut built = Built::row(3, plain(vec![0, 0b1010_0000], vec![7, 9]));
    built.fields.push(plain(vec![254], vec![1, 2]));
    assert_eq!(built.values(0).unwrap(), [Ok(7.0), Err(Gap::Masked), Ok(9.0)]);
    assert_eq!(built.values(1).unwrap(), [Ok(1.0), Err(Gap::Masked), Ok(2.0)]);
    built.fields.remove(0);
    assert_eq!(built.values(0).unwrap_err().section, Some(6));
}

#[test]
fn what_is_not_read_is_refused_by_name() {
    let plain = || field(representation(0, 0.0, 0, 0, 8), 3, vec![255], vec![0; 3]);
    let words = |built: &Built| built.values(0).unwrap_err().in_file("f");
    for template in [1_u16, 6, 50, 61, 200, 16387] {
        let mut built = Built::row(3, plain());
        built.fields[0].representation[..2].copy_from_slice(&template.to_be_bytes());
        assert!(words(&built).starts_with(&format!("unsupported: template 5.{template} in message 1 of f")));
    }
    let mut built = Built::row(3, plain());
    built.product[1] = 7;
    assert!(words(&built).starts_with("unsupported: template 4.7 in message 1 of f"));
    let mut built = Built::row(3, plain());
    built.fields[0].bitmap = vec![3];
    assert!(words(&built).starts_with("unsupported: bitmap indicator 3"));
    let mut built = Built::row(3, plain());
    built.scanning = 0x08;
    assert!(words(&built).starts_with("unsupported: template 3.0 with staggered points in message 1 of f"));
}

#[test]
fn counts_that_contradict_each_other_give_no_value() {
    let plain =
        |count, bitmap, octets| field(representation(0, 0.0, 0, 0, 8), count, bitmap, vec![0; octets]);
    for (built, section) in [
        (plain(2, vec![255], 3), 5),
        (plain(4, vec![255], 4), 5),
        (plain(3, vec![0, 0b1010_0000], 3), 5),
        (plain(3, vec![0], 3), 6),
        (plain(3, vec![255], 2), 7),
    ] {
        assert_eq!(Built::row(3, built).values(0).unwrap_err().section, Some(section));
    }
}

#[test]
fn ccsds_flags_about_the_order_of_octets_change_no_value() {
    // libaec's flags 3BYTE and MSB are about the decoder's output; the coded stream is the same without them.
    let Some(folder) = shared("grib-real") else { return };
    let bytes = std::fs::read(folder.join("gefs-1p00-20061004-f072-prmsl-packings.grib2")).unwrap();
    let message = messages(&bytes)[2];
    let mut changed = message.bytes.to_vec();
    let five = changed
        .windows(7)
        .position(|seven| seven == [0, 0, 0, 25, 5, 0, 0])
        .unwrap();
    assert_eq!(changed[five + 9..five + 11], [0, 42]);
    changed[five + 21] &= !0x06;
    let nodes: Vec<_> = (0..181).map(|row| (row, row)).collect();
    let values = |bytes: &[u8]| {
        let message = messages(bytes)[0];
        grid::values_at(&message, &grid::read_fields(&message).unwrap()[0], &nodes).unwrap()
    };
    assert_eq!(values(message.bytes), values(&changed));
}

/// The example of ISO/IEC 15444-1, section J.10.1 (from memory: that its samples come out says that it is right): its markers of size; of coding;
/// the only tile; the end.
const EXAMPLE: [&str; 4] = [
    "ff4fff510029000000000001000000090000000000000000000000010000000900000000000000000001070101",
    "ff5c00074040484850ff52000c00000001000104040001",
    "ff90000a00000000001e0001ff93c7d40c018f0dc8755dc07c21800fb176",
    "ffd9",
];

/// A row of the example's nine samples in template 5.40, from the digits of a stream.
fn image(digits: &str) -> Built {
    let octet = |two: &[u8]| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap();
    let stream = digits.as_bytes().chunks(2).map(octet).collect();
    let mut five = representation(40, 0.0, 0, 0, 8);
    five.extend([0, 255]);
    Built::row(9, field(five, 9, vec![255], stream))
}

fn unpacks_in_bounds(built: &Built) -> bool {
    let octets = built.octets();
    let message = messages(&octets)[0];
    grid::unpacks_in_bounds(&message, &grid::read_fields(&message).unwrap()[0])
}

#[test]
fn a_jpeg_2000_image_is_read_as_the_standard_reads_its_example() {
    let samples = whole(&[101.0, 103.0, 104.0, 105.0, 96.0, 97.0, 96.0, 102.0, 109.0]);
    let built = image(&EXAMPLE.concat());
    assert_eq!(built.values(0).unwrap(), samples);
    assert!(unpacks_in_bounds(&built));
    let [size, coding, tile, end] = EXAMPLE;
    // A region of interest (marker RGN): shifted by nothing, and by one bit.
    let with_region = |marker| image(&[size, coding, marker, tile, end].concat());
    assert_eq!(with_region("ff5e0005000000").values(0).unwrap(), samples);
    assert!(with_region("ff5e0005000001").values(0).is_err());
    // The irreversible transform is left to the `grib` crate.
    let irreversible = coding.strip_suffix("01").unwrap().to_owned() + "00";
    assert!(!unpacks_in_bounds(&image(
        &[size, &irreversible, tile, end].concat()
    )));
}

#[test]
fn a_jpeg_2000_image_that_breaks_off_or_goes_on_gives_no_value() {
    let [size, coding, tile, end] = EXAMPLE;
    // The last octet of the last packet missing, with the tile as long as it says and as long as it is; an octet too many.
    let shorter = &tile[..tile.len() - 2];
    let lengths = [
        shorter.to_owned(),
        shorter.replace("0000001e", "0000001d"),
        format!("{}00", tile.replace("0000001e", "0000001f")),
    ];
    for tile in lengths {
        let damage = image(&[size, coding, &tile, end].concat()).values(0).unwrap_err();
        assert_eq!(damage.section, Some(7), "{damage}");
        assert!(matches!(damage.what, Fault::Undecodable(_)), "{damage}");
    }
}
