//! Who is due a mail, what becomes of it, and SMTP.
//!
//! Owns: when a digest is due, whether a change is told, the states of the outbox, handing a mail over. Is given: the store, the
//! clubs, a clock, the settings of a mail server. Must not know: GRIB, source addresses, axum, how an advisory is made.
