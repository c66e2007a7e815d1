//! The mail as the settings have it, and the loop that sees to it.
//!
//! Owns: reading the files that `[mail]` names, when it goes round. Must not know: what a mail says, SMTP.

use crate::context::Context;
use crate::keeping::Clock;
use crate::output::{CommandError, failed, print, tell};
use crate::settings::MailSet;
use chrono::{DateTime, TimeDelta, Utc};
use digests::{MailServer, MailSettings, Office, PostWatcher, Posted, SettingsError, Unwatched};
use std::convert::Infallible;
use std::path::Path;
use std::sync::Arc;

/// Largest file of certificates or of a key, octets.
const PEM_AT_MOST: u64 = 1 << 20;
/// How often it is looked whether anything is due.
const LOOK: TimeDelta = TimeDelta::seconds(10);
/// What became of a mail is remembered so long after it was of use.
const REMEMBERED: TimeDelta = TimeDelta::days(30);

/// What sees to the mail; none where the settings send none.
///
/// # Errors
/// If a file that `[mail]` names cannot be read or is none of its kind.
pub async fn office(context: &Context) -> Result<Option<Arc<Office>>, CommandError> {
    let (Some(set), Some(public)) = (&context.settings.mail, &context.settings.serving.public_address) else {
        return Ok(None);
    };
    let server = MailServer::new(settings(set).await?).map_err(wrong("tls_roots"))?;
    let club = context.club.slug.clone();
    Ok(Some(Arc::new(Office::new(
        context.store.clone(),
        server,
        public.clone(),
        club,
    ))))
}

/// The settings with the files that they name.
async fn settings(set: &MailSet) -> Result<MailSettings, CommandError> {
    Ok(MailSettings {
        host: set.host.clone(),
        port: set.port,
        encryption: set.encryption,
        login: set.login.clone(),
        from: set.from.clone(),
        connections: set.connections,
        timeout: set.timeout,
        roots: match &set.roots {
            Some(path) => pem("tls_roots", path).await?.into_bytes(),
            None => Vec::new(),
        },
        #[cfg(feature = "dkim")]
        signer: match &set.signing {
            Some(signing) => {
                let key = pem("dkim_key", &signing.key).await?;
                let signer = digests::dkim::Signer::new(&signing.domain, &signing.selector, &key);
                Some(signer.map_err(wrong("dkim_key"))?)
            }
            None => None,
        },
    })
}

fn wrong(key: &'static str) -> impl FnOnce(SettingsError) -> CommandError {
    move |expected| CommandError::Wrong(format!("cringle: mail.{key}: its file should hold {expected}"))
}

async fn pem(key: &str, path: &Path) -> Result<String, CommandError> {
    let doing = || {
        failed(format!(
            "the file {} of mail.{key} cannot be read",
            path.display()
        ))
    };
    let size = tokio::fs::metadata(path).await.map_err(doing())?.len();
    if size > PEM_AT_MOST {
        let words = format!("cringle: mail.{key}: its file is longer than {PEM_AT_MOST} octets");
        return Err(CommandError::Wrong(words));
    }
    tokio::fs::read_to_string(path).await.map_err(doing())
}

/// Makes what is due and sends what waits, once.
///
/// # Errors
/// If the store does not answer.
pub async fn round(
    office: &Arc<Office>,
    context: &Context,
    clock: &Clock,
) -> Result<Posted, digests::DigestError> {
    digests::make_mailings(&context.store, clock()).await?;
    let watcher: Arc<dyn PostWatcher> = Arc::new(Unwatched);
    office.post(clock, &watcher).await
}

/// Goes round for ever; `pace` is how many times faster than the machine's the clock goes.
pub async fn keep_on(office: &Arc<Office>, context: &Context, clock: &Clock, pace: u32) -> Infallible {
    let mut troubles = 0;
    loop {
        let wait = match round(office, context, clock).await {
            Ok(posted) => {
                told(clock(), &posted);
                troubles = if posted.trouble.is_some() { troubles + 1 } else { 0 };
                match troubles {
                    0 => LOOK,
                    troubles => digests::pause_after(troubles),
                }
            }
            Err(error) => {
                let error: &dyn std::error::Error = &error;
                tracing::error!(error, "the mail could not be seen to; it is tried again");
                LOOK
            }
        };
        if let Err(error) = context.store.prune_mail(clock() - REMEMBERED, clock()).await {
            let error: &dyn std::error::Error = &error;
            tracing::error!(error, "old mail could not be forgotten; it is tried again");
        }
        tokio::time::sleep(wait.to_std().unwrap_or_default() / pace.max(1)).await;
    }
}

fn told(now: DateTime<Utc>, posted: &Posted) {
    let line = in_words(posted);
    if *posted != Posted::default() {
        print(&format!("{} mail: {line}\n", now.format("%Y-%m-%d %H:%M UTC")));
    }
    if let Some(trouble) = &posted.trouble {
        tracing::error!("no mail goes out: {trouble}; it is tried again");
    }
}

/// What a round did.
pub fn in_words(posted: &Posted) -> String {
    let counts = [
        (posted.sent, "sent"),
        (posted.waiting, "to be tried again"),
        (posted.refused, "refused for good"),
        (posted.left_out, "left out"),
    ];
    let said: Vec<String> = counts
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
    match said.is_empty() {
        true => "nothing is due".to_owned(),
        false => said.join(", "),
    }
}

/// Tells a round's trouble on standard error.
pub fn tell_trouble(posted: &Posted) {
    if let Some(trouble) = &posted.trouble {
        tell(&format!("cringle: no mail goes out: {trouble}"));
    }
}
