//! Values into sections 5, 6 and 7: simple packing (template 5.0) with a bitmap where values are missing.
//!
//! Owns: the octets of those sections (WMO FM 92 GRIB2, data representation template 5.0, regulation 92.9.4).
//! Must not know: grids.

/// Bits of a packed value at most: what 16 bits keep of a field is finer than producers write it.
pub(crate) const BITS: u8 = 16;

/// Sections 5, 6 and 7 of these values in order of storage; none where the producer masks.
pub(crate) fn pack(values: &[Option<f32>], bits: u8) -> Vec<u8> {
    let present: Vec<f32> = values.iter().flatten().copied().collect();
    let least = present.iter().copied().reduce(f32::min).unwrap_or(0.0);
    let most = present.iter().copied().reduce(f32::max).unwrap_or(0.0);
    let scale = binary_scale(f64::from(most) - f64::from(least), bits);
    let bits = if most > least { bits } else { 0 };

    let mut octets = Vec::new();
    section(&mut octets, 5, |body| {
        body.extend_from_slice(&(present.len() as u32).to_be_bytes());
        body.extend_from_slice(&[0, 0]); // template 5.0
        body.extend_from_slice(&least.to_be_bytes());
        body.extend_from_slice(&sign_and_magnitude_16(scale).to_be_bytes());
        body.extend_from_slice(&[0, 0, bits, 0]); // decimal scale 0; floating point values
    });
    section(&mut octets, 6, |body| bitmap(body, values));
    section(&mut octets, 7, |body| {
        let step = f64::from(scale).exp2();
        let packed = |value: &f32| ((f64::from(*value) - f64::from(least)) / step).round() as u32;
        put_bits(body, present.iter().map(packed), bits);
    });
    octets
}

/// The binary scale with which this range fits into so many bits.
fn binary_scale(range: f64, bits: u8) -> i16 {
    let largest = f64::from((1_u32 << bits) - 1);
    if range > 0.0 {
        (range / largest).log2().ceil() as i16
    } else {
        0
    }
}

/// A section: its length and number before what `fill` appends.
pub(crate) fn section(octets: &mut Vec<u8>, number: u8, fill: impl FnOnce(&mut Vec<u8>)) {
    let start = octets.len();
    octets.extend_from_slice(&[0, 0, 0, 0, number]);
    fill(octets);
    let length = (octets.len() - start) as u32;
    octets[start..start + 4].copy_from_slice(&length.to_be_bytes());
}

fn bitmap(body: &mut Vec<u8>, values: &[Option<f32>]) {
    if values.iter().all(Option::is_some) {
        body.push(255);
        return;
    }
    body.push(0);
    put_bits(body, values.iter().map(|value| u32::from(value.is_some())), 1);
}

/// Numbers of so many bits one after another, the last octet filled up with zeros.
fn put_bits(body: &mut Vec<u8>, numbers: impl Iterator<Item = u32>, bits: u8) {
    if bits == 0 {
        return;
    }
    let (mut waiting, mut held) = (0_u64, 0_u32);
    for number in numbers {
        waiting = waiting << bits | u64::from(number);
        held += u32::from(bits);
        while held >= 8 {
            held -= 8;
            body.push((waiting >> held) as u8);
        }
        waiting &= (1 << held) - 1;
    }
    if held > 0 {
        body.push((waiting << (8 - held)) as u8);
    }
}

/// Two octets whose first bit is the sign (regulation 92.1.5).
fn sign_and_magnitude_16(number: i16) -> u16 {
    number.unsigned_abs() | if number < 0 { 0x8000 } else { 0 }
}
