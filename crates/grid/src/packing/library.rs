//! Values by the `grib` crate: of JPEG 2000 streams (template 5.40) of kinds that are not read here, and of other templates for comparisons.
//!
//! Owns: what the crate is given, and the boundary that turns its panic into damage. Every count it would trust has been checked before.

use super::{ORIGINAL_TYPE, complex, undecodable};
use crate::Damage;
use crate::sections::{FieldSections, Section};
use forecast::{Gap, Sample};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The templates with the octets of section 5 that the crate is given of each.
const TEMPLATES: [(u16, usize); 5] = [(0, 21), (2, 47), (3, 49), (40, 23), (42, 25)];

/// The values at these ascending positions.
pub(super) fn values(
    field: &FieldSections<'_>,
    template: u16,
    wanted: &[usize],
) -> Result<Vec<Sample>, Damage> {
    let values = decode(field, template, wanted).map_err(|why| undecodable(field, why))?;
    let may_be_missing = matches!(template, 2 | 3) && complex::manages_missing(&field.representation)?;
    let sample = |value: f32| match value.is_nan() && may_be_missing {
        true => Err(Gap::Masked),
        false => Ok(value),
    };
    super::finite(&field.data, values.into_iter().map(sample).collect())
}

/// Section 5 for the `grib` crate: as in the message, but for what the crate would read otherwise than is meant.
fn representation_for_decoder(
    section: &Section<'_>,
    template: u16,
    values: usize,
) -> Result<Vec<u8>, String> {
    let of_template = TEMPLATES.iter().find(|(known, _)| *known == template);
    let length = of_template.map_or(0, |(_, length)| *length);
    let mut octets = section
        .bytes
        .get(..length)
        .ok_or("section 5 is too short for its template")?
        .to_vec();
    octets[..4].copy_from_slice(&(length as u32).to_be_bytes());
    octets[5..9].copy_from_slice(&(values as u32).to_be_bytes());
    // Whether values were integers before packing does not change how they are packed; the crate refuses it.
    octets[ORIGINAL_TYPE - 1] = 0;
    if template == 42 {
        // The order of octets in the decoder's output is the reader's choice (libaec's flags 3BYTE and MSB), whatever
        // the producer's encoder used; the crate reads the shortest big-endian integers.
        octets[21] |= 0x02 | 0x04;
    }
    Ok(octets)
}

/// Runs the `grib` crate up to the last wanted position. Its panics end here.
fn decode(field: &FieldSections<'_>, template: u16, wanted: &[usize]) -> Result<Vec<f32>, String> {
    let Some(last) = wanted.last() else {
        return Ok(Vec::new());
    };
    let values = last + 1;
    let representation = representation_for_decoder(&field.representation, template, values)?;
    let no_bitmap = vec![0, 0, 0, 6, 6, 255];
    let data = field.data.bytes.to_vec();
    let run = move || {
        let decoder = grib::Grib2SubmessageDecoder::new(values, representation, no_bitmap, data);
        let decoder = decoder.map_err(|error| error.to_string())?;
        pick(decoder.dispatch().map_err(|error| error.to_string())?, wanted)
    };
    catch_unwind(AssertUnwindSafe(run)).unwrap_or_else(|_| Err("the decoder gave up".to_owned()))
}

fn pick(values: impl Iterator<Item = f32>, wanted: &[usize]) -> Result<Vec<f32>, String> {
    let (mut picked, mut values, mut passed) = (Vec::with_capacity(wanted.len()), values, 0);
    for &position in wanted {
        let value = values
            .nth(position - passed)
            .ok_or("there are fewer values than promised")?;
        picked.push(value);
        passed = position + 1;
    }
    Ok(picked)
}

#[cfg(test)]
mod tests {
    use super::pick;

    #[test]
    fn nothing_is_unpacked_past_the_last_wanted_value() {
        let unpacked = (0..100u8).map(|value| {
            assert!(value <= 7, "value {value} was asked for");
            f32::from(value)
        });
        assert_eq!(pick(unpacked, &[2, 7]), Ok(vec![2.0, 7.0]));
    }

    #[test]
    fn a_field_that_ends_early_is_told() {
        assert!(pick([1.0].into_iter(), &[1]).is_err());
    }
}
