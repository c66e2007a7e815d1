//! End-to-end tests of Cringle: the harness they share.
