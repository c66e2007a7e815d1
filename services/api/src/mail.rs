//! How the mail stands, for `/readyz` and `/metrics`: counts, since when the longest waiting waits, and what went wrong last.
//!
//! Must not know: whose mail it is, how it is sent.

use chrono::{DateTime, SecondsFormat, Utc};
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::registry::{Registry, Unit};
use serde_json::{Value, json};
use store::{MailStanding, MailTrouble};

/// By what mails are counted: each has few values.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Kind {
    state: String,
    fault: String,
}

/// The gauges.
#[derive(Default)]
pub(crate) struct MailGauges {
    mails: Family<Kind, Gauge>,
    waits: Gauge,
}

impl MailGauges {
    /// Those of a registry.
    pub(crate) fn register(&self, registry: &mut Registry) {
        registry.register(
            "mails",
            "Mails of the last thirty days by what became of them and, of those that wait or were refused, why",
            self.mails.clone(),
        );
        registry.register_with_unit(
            "longest_waiting_mail",
            "How long the longest waiting mail has waited, 0 if none waits",
            Unit::Seconds,
            self.waits.clone(),
        );
    }

    /// Sets them to how the mail stands.
    pub(crate) fn set(&self, standing: &MailStanding, now: DateTime<Utc>) {
        self.mails.clear();
        for count in &standing.counts {
            let kind = Kind {
                state: count.state.clone(),
                fault: count.fault.clone().unwrap_or_default(),
            };
            self.mails.get_or_create(&kind).set(count.mails);
        }
        let waits = standing
            .waits_since
            .map_or(0, |since| (now - since).num_seconds());
        self.waits.set(waits);
    }
}

/// As `/readyz` tells it.
pub(crate) fn in_json(standing: &MailStanding) -> Value {
    let of = |state: &str| -> i64 {
        let counts = standing.counts.iter().filter(|count| count.state == state);
        counts.map(|count| count.mails).sum()
    };
    json!({
        "waiting": of("waiting"),
        "waits_since": standing.waits_since.map(shown),
        "sent": of("sent"),
        "refused": of("refused"),
        "too_late": of("late"),
        "nothing_to_tell": of("unneeded"),
        "last_trouble": standing.trouble.as_ref().map(trouble),
    })
}

fn trouble(trouble: &MailTrouble) -> Value {
    json!({
        "fault": trouble.fault,
        "words": trouble.words,
        "at": shown(trouble.at),
        "tried_again": trouble.waits,
    })
}

fn shown(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}
