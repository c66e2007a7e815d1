//! The routes without a socket, over the samples of crates/present and a club of their name.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail by panicking"
)]

mod around;
mod caching;
mod calendars;
mod clients;
mod conditions;
mod data_page;
mod deciding;
mod described;
mod elsewhere;
mod embed;
mod feeds;
mod hidden;
mod hostile;
mod mail_desk;
mod openings;
mod pages;
mod policy_page;
mod problem_pages;
mod reading;
mod sheet;
mod shelf;
mod subscribing;
mod subscription_links;
mod subscriptions;
mod subscriptions_untold;
mod tokens;
mod windows;
mod writes;
