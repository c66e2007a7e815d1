//! advisory
