//! Writing by token: decisions and club files.
//!
//! Sources: RFC 9110 (201, 404, 409, 412, 413, 415, 422; If-Match, section 13.1.1; strong comparison, 8.8.3.2), RFC 6585
//! (428), RFC 6750 (401, 403), RFC 9457 (problems).

mod decisions;
mod files;
