//! What is counted of the service, and how it is told (OpenMetrics 1.0).
//!
//! Owns: the counters and their names. Must not know: what a request was about. No label holds a path, a name or an
//! address: each has few values, so that counting needs bounded memory.

use crate::mail::MailGauges;
use axum::http::{Method, StatusCode};
use chrono::{DateTime, Utc};
use present::standing::SourceStanding;
use prometheus_client::encoding::{EncodeLabelSet, text::encode};
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};
use std::fmt;
use std::sync::atomic::AtomicI64;
use std::time::Duration;
use store::MailStanding;

/// The media type of OpenMetrics 1.0.
pub(crate) const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Upper ends of the classes of time, seconds: the figures asked of the service lie between them.
const CLASSES_S: [f64; 10] = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5, 2.0, 10.0];

/// What a request is counted by.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Kind {
    route: String,
    method: &'static str,
    status: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfRoute {
    route: String,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfSource {
    source: String,
}

/// The counters.
pub(crate) struct Metrics {
    requests: Family<Kind, Counter>,
    seconds: Family<OfRoute, Histogram>,
    at_hand: Gauge,
    refused: Counter,
    run_age: Family<OfSource, Gauge<i64, AtomicI64>>,
    mail: MailGauges,
    registry: Registry,
}

impl Default for Metrics {
    fn default() -> Self {
        let requests = Family::<Kind, Counter>::default();
        let seconds = Family::<OfRoute, Histogram>::new_with_constructor(|| Histogram::new(CLASSES_S));
        let (at_hand, refused) = (Gauge::default(), Counter::default());
        let run_age = Family::default();
        let mut registry = Registry::with_prefix("cringle");
        registry.register("requests", "Requests answered", requests.clone());
        registry.register_with_unit(
            "request_duration",
            "Time to the answer's head",
            Unit::Seconds,
            seconds.clone(),
        );
        registry.register("requests_at_hand", "Requests being answered", at_hand.clone());
        registry.register(
            "requests_refused",
            "Requests of clients that asked too often",
            refused.clone(),
        );
        registry.register_with_unit(
            "newest_run_age",
            "Age of a source's newest run, from its reference time",
            Unit::Seconds,
            run_age.clone(),
        );
        let mail = MailGauges::default();
        mail.register(&mut registry);
        Self {
            requests,
            seconds,
            at_hand,
            refused,
            run_age,
            mail,
            registry,
        }
    }
}

impl Metrics {
    /// A request has come.
    pub(crate) fn begun(&self) {
        self.at_hand.inc();
    }

    /// It is answered, or was given up.
    pub(crate) fn ended(&self) {
        self.at_hand.dec();
    }

    /// What became of it.
    pub(crate) fn answered(&self, route: &str, method: &Method, status: StatusCode, took: Duration) {
        let kind = Kind {
            route: route.to_owned(),
            method: method_word(method),
            status: class(status),
        };
        self.requests.get_or_create(&kind).inc();
        let of_route = OfRoute { route: kind.route };
        self.seconds.get_or_create(&of_route).observe(took.as_secs_f64());
    }

    /// A client asked too often.
    pub(crate) fn refused(&self) {
        self.refused.inc();
    }

    /// All of it as text, with the ages of the newest runs and the mail as they are now.
    pub(crate) fn text(
        &self,
        sources: &[SourceStanding],
        mail: &MailStanding,
        now: DateTime<Utc>,
    ) -> Result<String, fmt::Error> {
        self.mail.set(mail, now);
        for standing in sources {
            let source = OfSource {
                source: standing.source.clone(),
            };
            match &standing.newest_run {
                Some(run) => {
                    self.run_age
                        .get_or_create(&source)
                        .set((now - run.run).num_seconds());
                }
                // An age of a run that is gone must not stand.
                None => {
                    self.run_age.remove(&source);
                }
            }
        }
        let mut text = String::new();
        encode(&mut text, &self.registry)?;
        Ok(text)
    }
}

fn method_word(method: &Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "OPTIONS" => "OPTIONS",
        _ => "other",
    }
}

fn class(status: StatusCode) -> &'static str {
    match status.as_u16() {
        100..200 => "1xx",
        200..300 => "2xx",
        300..400 => "3xx",
        400..500 => "4xx",
        _ => "5xx",
    }
}
