//! fetcher

pub mod decoder;
