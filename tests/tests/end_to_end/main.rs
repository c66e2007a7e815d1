//! End to end, through the program, over real GRIB2 messages.

mod by_hand;
mod command_line;
mod demo;
mod expected_values;
mod explained;
mod holes;
