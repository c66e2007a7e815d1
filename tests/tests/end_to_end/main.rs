//! End to end, through the program, over real GRIB2 messages.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests say what must be there"
)]

mod by_hand;
mod command_line;
mod decided;
mod demo;
mod expected_values;
mod explained;
mod faults;
mod holes;
mod instead;
mod kept;
mod live;
mod mail_faults;
mod openings_page;
mod other_feeds;
mod serve;
mod service;
mod settings;
mod shipped_clubs;
mod steady;
mod suppose;
mod tightened;
mod tokens;
mod turned;
mod two_services;
