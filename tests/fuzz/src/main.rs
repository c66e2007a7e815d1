//! Fuzz targets for everything that reads foreign octets: `CRINGLE_FUZZ_TARGET` names the one that runs. tests/fuzz/check builds and runs them.
//!
//! Held of each: no panic, no hang, no memory beyond what the octets and the places need; of packings also that a choice of points has the
//! values that all have. libFuzzer looks for octets that break this, from the seeds that seeds.py writes.

#![no_main]

mod bounded;
mod message;
mod packing;
mod text;

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

/// A target by its name.
static TARGET: LazyLock<fn(&[u8])> = LazyLock::new(|| {
    let name = std::env::var("CRINGLE_FUZZ_TARGET").unwrap_or_default();
    match name.as_str() {
        "packing-0" => |octets| packing::look(0, octets),
        "packing-2" => |octets| packing::look(2, octets),
        "packing-3" => |octets| packing::look(3, octets),
        "packing-4" => |octets| packing::look(4, octets),
        "packing-40" => |octets| packing::look(40, octets),
        "packing-41" => |octets| packing::look(41, octets),
        "packing-42" => |octets| packing::look(42, octets),
        "message" => message::look,
        "noaa-index" => text::noaa_index,
        "ecmwf-index" => text::ecmwf_index,
        "club-file" => text::club_file,
        _ => panic!("CRINGLE_FUZZ_TARGET is to name a target; tests/fuzz/check has their names"),
    }
});

fuzz_target!(init: bounded::tell_only_panics_that_escape(), |octets: &[u8]| bounded::hold(|| TARGET(octets)));
