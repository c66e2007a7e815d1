//! advisor
