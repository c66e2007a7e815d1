//! fetcher
