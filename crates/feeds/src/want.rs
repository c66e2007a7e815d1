//! One wanted message of each step: which quantity, how index and file name it, and what it must turn out to be.
//!
//! Owns: the wanted entry and when it is due. Must not know: whole feeds, paths, texts of indexes.

use forecast::{Parameter, Step};
use serde::Deserialize;

/// One wanted message of each file.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Want {
    /// Which quantity.
    pub parameter: Parameter,
    /// Its variable in the index, or in the path where a file holds one field.
    pub variable: String,
    /// Other names it has in the index at some steps; the variable itself is looked for first.
    #[serde(default)]
    pub also: Vec<String>,
    /// Its level in the index; unused where a file holds one field.
    #[serde(default)]
    pub level_text: String,
    /// A moment, an accumulation or a maximum.
    pub kind: WantKind,
    /// Lengths of the interval of a maximum that are accepted, hours.
    #[serde(default)]
    pub window_hours: Vec<u16>,
    /// First step that has it.
    #[serde(default)]
    pub first_step: u16,
    /// True for a field that does not change: it is taken from step 0 only.
    #[serde(default)]
    pub static_field: bool,
    /// Accepted discipline, category and number.
    pub codes: Vec<[u8; 3]>,
    /// Accepted types of first fixed surface.
    pub surfaces: Vec<u8>,
    /// Value on that surface, where it matters.
    #[serde(default)]
    pub level: Option<f64>,
    /// Factors into the parameter's unit, for those of the codes that are in another.
    #[serde(default)]
    pub scale: Vec<Scale>,
    /// Path of its own, where a file holds one field and this one lies elsewhere.
    #[serde(default)]
    pub path: Option<String>,
}

/// A factor by which values of one code must be multiplied to be in the parameter's unit.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scale {
    /// Discipline, category and number.
    pub codes: [u8; 3],
    /// The factor.
    pub factor: f64,
}

/// Whether a message is of a moment, accumulated, or the maximum of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WantKind {
    /// A value of one moment.
    Instant,
    /// An accumulation since the last multiple of the feed's `bucket_hours`.
    Bucket,
    /// An accumulation since the start of the run.
    SinceRunStart,
    /// The maximum of an interval that ends with the step; its length is the message's own.
    Maximum,
}

impl Want {
    /// True if a step has it.
    pub fn is_due(&self, step: Step) -> bool {
        step.0 >= self.first_step && (!self.static_field || step.0 == 0)
    }

    /// Every name it has in an index, the likeliest first.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        std::iter::once(&self.variable)
            .chain(&self.also)
            .map(String::as_str)
    }

    /// The factor by which values of a message of this code are multiplied to be in the parameter's unit.
    pub fn factor(&self, codes: [u8; 3]) -> f64 {
        let scale = self.scale.iter().find(|scale| scale.codes == codes);
        scale.map_or(1.0, |scale| scale.factor)
    }
}
