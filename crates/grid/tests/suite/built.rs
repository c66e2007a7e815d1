//! Small messages built octet by octet, as WMO FM 92 GRIB edition 2 lays them down, for what no shared file holds.

use forecast::Sample;
use grid::{Damage, Frame, Message};

/// A message to be: every part may be set apart before it is put together.
#[derive(Clone, Debug)]
pub struct Built {
    pub columns: u32,
    pub rows: u32,
    /// First and last latitude and longitude, millionths of a degree, signed.
    pub corners: [i32; 4],
    /// Steps along a parallel and a meridian, millionths of a degree.
    pub steps: [u32; 2],
    pub scanning: u8,
    pub product: Vec<u8>,
    /// Section 3 from octet 6 on, where it is not that of a regular grid.
    pub other_grid: Option<Vec<u8>>,
    pub fields: Vec<BuiltField>,
}

/// Sections 5 to 7 of one field.
#[derive(Clone, Debug)]
pub struct BuiltField {
    /// Section 5 from octet 10 on: the template's number and the template.
    pub representation: Vec<u8>,
    pub packed_values: u32,
    /// Section 6 from octet 6 on.
    pub bitmap: Vec<u8>,
    /// Section 7 from octet 6 on.
    pub data: Vec<u8>,
}

/// Signed by the first bit (regulation 92.1.5).
pub fn signed_32(value: i32) -> [u8; 4] {
    (value.unsigned_abs() | if value < 0 { 0x8000_0000 } else { 0 }).to_be_bytes()
}

pub fn signed_16(value: i16) -> [u8; 2] {
    (value.unsigned_abs() | if value < 0 { 0x8000 } else { 0 }).to_be_bytes()
}

/// Octets 10 to 21 of section 5 as most templates share them.
pub fn representation(template: u16, reference: f32, binary: i16, decimal: i16, bits: u8) -> Vec<u8> {
    let mut octets = template.to_be_bytes().to_vec();
    octets.extend(reference.to_be_bytes());
    octets.extend(signed_16(binary));
    octets.extend(signed_16(decimal));
    octets.extend([bits, 0]);
    octets
}

/// Template 4.0 for 10 m wind towards east: octets 8 to 34 of section 4, with this unit and number of forecast time.
pub fn instant_product(unit: u8, ahead: i32) -> Vec<u8> {
    let mut octets = vec![0, 0, 2, 2, 2, 0, 0, 0, 0, 0, unit];
    octets.extend(signed_32(ahead));
    octets.extend([103, 0, 0, 0, 0, 10, 255, 255, 255, 255, 255, 255]);
    octets
}

impl Built {
    /// A 5.0 field of whole numbers in 16 bits, given in the order they are stored.
    pub fn plain(
        columns: u32,
        rows: u32,
        corners: [i32; 4],
        steps: [u32; 2],
        scanning: u8,
        stored: &[u16],
    ) -> Self {
        let field = BuiltField {
            representation: representation(0, 0.0, 0, 0, 16),
            packed_values: stored.len() as u32,
            bitmap: vec![255],
            data: stored.iter().flat_map(|value| value.to_be_bytes()).collect(),
        };
        let product = instant_product(1, 0);
        Self {
            columns,
            rows,
            corners,
            steps,
            scanning,
            product,
            other_grid: None,
            fields: vec![field],
        }
    }

    /// A row of this many points, one field.
    pub fn row(points: u32, field: BuiltField) -> Self {
        let east = 1_000_000 * (points as i32 - 1);
        let mut built = Self::plain(points, 1, [0, 0, 0, east], [1_000_000, 0], 0, &[]);
        built.fields = vec![field];
        built
    }

    fn grid_section(&self) -> Vec<u8> {
        if let Some(octets) = &self.other_grid {
            return octets.clone();
        }
        let mut octets = vec![0];
        octets.extend((self.columns * self.rows).to_be_bytes());
        octets.extend([0, 0, 0, 0, 6]);
        octets.extend([0; 15]);
        octets.extend(self.columns.to_be_bytes());
        octets.extend(self.rows.to_be_bytes());
        octets.extend([0, 0, 0, 0, 255, 255, 255, 255]);
        let [first_lat, first_lon, last_lat, last_lon] = self.corners.map(signed_32);
        octets.extend([first_lat, first_lon].concat());
        octets.push(0x30);
        octets.extend([last_lat, last_lon].concat());
        octets.extend(self.steps.map(u32::to_be_bytes).concat());
        octets.push(self.scanning);
        octets
    }

    /// The whole message.
    pub fn octets(&self) -> Vec<u8> {
        let mut body = section(1, &[0, 7, 0, 0, 2, 1, 1, 7, 0xd4, 5, 13, 0, 0, 0, 0, 1]);
        body.extend(section(3, &self.grid_section()));
        for field in &self.fields {
            body.extend(section(4, &[&[0, 0], self.product.as_slice()].concat()));
            let representation = [
                &field.packed_values.to_be_bytes(),
                field.representation.as_slice(),
            ]
            .concat();
            body.extend(section(5, &representation));
            body.extend(section(6, &field.bitmap));
            body.extend(section(7, &field.data));
        }
        let length = (16 + body.len() + 4) as u64;
        let mut octets = b"GRIB\xff\xff\x00\x02".to_vec();
        octets.extend(length.to_be_bytes());
        octets.extend(body);
        octets.extend(b"7777");
        octets
    }

    /// All values of a field, in the order its nodes are asked for: row by row from the first point.
    pub fn values(&self, field: usize) -> Result<Vec<Sample>, Damage> {
        let octets = self.octets();
        let message = only_message(&octets)?;
        let header = &grid::read_fields(&message)?[field];
        let nodes: Vec<_> = (0..self.rows)
            .flat_map(|row| (0..self.columns).map(move |column| (column, row)))
            .collect();
        grid::values_at(&message, header, &nodes)
    }
}

pub fn only_message(octets: &[u8]) -> Result<Message<'_>, Damage> {
    match grid::split(octets).remove(0) {
        Frame::Message(message) => Ok(message),
        Frame::Damage(damage) => Err(damage),
    }
}

fn section(number: u8, octets: &[u8]) -> Vec<u8> {
    let length = (5 + octets.len()) as u32;
    [&length.to_be_bytes(), &[number][..], octets].concat()
}
