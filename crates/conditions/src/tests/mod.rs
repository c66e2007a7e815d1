//! One test for each rule, on slices built by hand, with the arithmetic in comments.
//!
//! "No source: common practice" holds for every number of trade judgement here; the arithmetic is its own authority.
//! The same rules are checked on decoded GRIB against independently computed values end to end.

mod fetch;
mod front;
mod gust;
mod mesh;
mod rain;
mod sea_breeze;
mod sources;
mod space;
mod stream;
mod support;
mod time;
mod trace;
mod turned;
