//! `cringle explain`: an issued advisory made again from its stored inputs, and its numbers traced.

use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use advisory::TracedReason;
use clap::Args;
use conditions::{Correction, Trace, TracedStep};
use std::fmt::Write;
use std::process::ExitCode;

/// Make an issued advisory again from its stored inputs and trace its numbers.
#[derive(Args, Debug)]
pub struct ExplainArguments {
    /// The advisory's name, or the beginning of it
    pub id: String,
    /// Print the accounts as JSON
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Explains; exit code 1 when what is made again is not what was issued.
pub async fn run(around: &Surroundings, arguments: ExplainArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, &arguments.context, Use::Reads).await?;
    let (issued, explained) = advisor::explain(&context.store, &arguments.id)
        .await
        .map_err(failed("the advisory cannot be explained"))?;
    let same = issued == explained.bytes;
    if arguments.json {
        let account = serde_json::json!({
            "id": explained.advisory.id,
            "identical": same,
            "bytes": issued.len(),
            "accounts": explained.accounts,
        });
        let text = serde_json::to_string_pretty(&account)
            .map_err(failed("the accounts cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        print(&present::terminal::folded(&in_words(
            &explained.advisory,
            same,
            issued.len(),
            &explained.accounts,
        )));
    }
    Ok(if same {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn in_words(advisory: &advisory::Advisory, same: bool, bytes: usize, accounts: &[TracedReason]) -> String {
    let verdict = if same {
        format!("Made again from its stored inputs: the same {bytes} bytes.")
    } else {
        "Made again from its stored inputs, it DIFFERS from what was issued: this program's rules are not those it was issued with."
            .to_owned()
    };
    let mut text = format!(
        "Advisory {} for {}: {}\nIssued {}, rules {}, catalogue {}, club file {}\n{verdict}\n",
        advisory.id,
        advisory.session.id,
        advisory.call.words(),
        advisory.issued_at.to_rfc3339(),
        advisory.versions.rules,
        &advisory
            .versions
            .catalogue
            .get(..12)
            .unwrap_or(&advisory.versions.catalogue),
        &advisory
            .versions
            .club
            .get(..12)
            .unwrap_or(&advisory.versions.club),
    );
    for account in accounts {
        let _ = write!(text, "\n{}\n  rule: {}\n", account.what, account.rule);
        for trace in &account.traces {
            text += &trace_lines(trace);
        }
    }
    text
}

fn trace_lines(trace: &Trace) -> String {
    let value = match &trace.value {
        Ok(value) => format!("{value:.3}"),
        Err(missing) => format!("missing, {}", missing.words()),
    };
    let run = trace.run.as_ref().map_or_else(
        || "no run".to_owned(),
        |(source, reference)| {
            format!(
                "{source} run {} member {}",
                reference.format("%Y-%m-%d %H UTC"),
                trace.member.0
            )
        },
    );
    let element = serde_json::to_value(trace.element)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default();
    let mut text = format!(
        "  {element} at {}: {value} <- {run}\n",
        trace.time.format("%d %b %H:%M UTC")
    );
    for step in &trace.steps {
        text += &step_line(step);
    }
    for correction in &trace.corrections {
        let words = correction_words(correction);
        let _ = writeln!(text, "    correction: {words}");
    }
    text
}

fn correction_words(correction: &Correction) -> String {
    match correction {
        Correction::SectorFactor { factor } => format!("sector factor {factor} on the mean"),
        Correction::EstimatedGust { factor } => format!("gust estimated as mean x {factor}"),
        Correction::GustRaisedToMean => "gust raised to the mean".to_owned(),
        Correction::Front { factor, veer_deg } => {
            format!("a front passes, the wind has turned by {veer_deg:.0} degrees: gust x {factor}")
        }
        Correction::SeaBreeze { planned_kn, warmer_c } => {
            let land = warmer_c.map_or_else(
                || "it is not known by how much the land is warmer than the sea".to_owned(),
                |warmer| format!("the land is {warmer:.1} degrees warmer than the sea"),
            );
            format!("sea breeze planned for, {planned_kn} kn: {land}")
        }
        Correction::OpposingStream { knots } => {
            format!("{knots:.2} kn of stream run against the wind and are added")
        }
        Correction::ByFetch {
            wind_kn,
            from_deg,
            model_m,
        } => {
            let model = model_m.map_or_else(String::new, |model| {
                format!(", more than the model's {model:.2} m")
            });
            format!("over the venue's fetch {wind_kn:.1} kn raise a sea from {from_deg:.0} degrees{model}")
        }
        Correction::SeaOnStream { ratio } => {
            format!("the sea runs into the stream: height x {ratio:.3}")
        }
        Correction::Breaking { ratio } => {
            format!(
                "the stream makes the sea break: as high as it stands before it does, height x {ratio:.3}"
            )
        }
    }
}

fn step_line(step: &TracedStep) -> String {
    let value = match &step.value {
        Ok(value) => format!("{value:.4} {}", step.parameter.unit()),
        Err(gap) => gap.words().to_owned(),
    };
    let nodes: Vec<String> = step
        .nodes
        .iter()
        .map(|node| {
            let sample = node
                .sample
                .map_or_else(|gap| gap.words().to_owned(), |sample| format!("{sample:.4}"));
            format!(
                "{:.2},{:.2} x{:.3} {sample}",
                node.node.at.lat, node.node.at.lon, node.weight
            )
        })
        .collect();
    let message = step.message.as_ref().map_or_else(
        || "no message".to_owned(),
        |message| format!("{} octets {}+{}", message.file, message.offset, message.length),
    );
    let turned = if step.turned_to_true_north {
        "      u and v along its grid, turned to true north\n"
    } else {
        ""
    };
    format!(
        "    {} step {} weight {:.3}: {value}\n      nodes {}\n      {message}\n{turned}",
        step.parameter,
        step.step.0,
        step.weight,
        nodes.join("; ")
    )
}
