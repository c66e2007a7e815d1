//! `cringle digest`: one round of the mail, or the mails as files.

use crate::commands::advise::issue;
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::keeping::Clock;
use crate::mailing;
use crate::output::{CommandError, failed, print};
use clap::Args;
use digests::{MailServer, MailSettings, Office, Sender};
use present::PublicAddress;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

/// Days ahead that a mail tells of, as the board does.
const DAYS: u16 = 7;

/// Make the mails that are due and send what waits, once; or write the daily mail to files.
///
/// Exit code 0 if nothing went wrong, 1 if a mail waits to be tried again or the server is in trouble, 2 if the settings are wrong.
#[derive(Args, Debug)]
pub struct DigestArguments {
    #[command(flatten)]
    pub context: ContextArguments,
    /// Send nothing: write the daily mail as it would go out now to FOLDER, as .eml files: one for somebody who takes everything, and one
    /// for each subscriber
    #[arg(long, value_name = "FOLDER")]
    pub dry_run: Option<PathBuf>,
}

/// One round, or files.
pub async fn run(around: &Surroundings, arguments: DigestArguments) -> Result<ExitCode, CommandError> {
    match &arguments.dry_run {
        Some(folder) => write(around, &arguments.context, folder.clone()).await,
        None => post(around, &arguments.context).await,
    }
}

async fn post(around: &Surroundings, arguments: &ContextArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, arguments, Use::Writes("digest sends mail")).await?;
    let office = mailing::office(&context).await?.ok_or_else(|| {
        let words = "cringle: no mail server is set: give [mail] in the settings, or write the mails to files by --dry-run";
        CommandError::Wrong(words.to_owned())
    })?;
    let now = context.now;
    let clock: Clock = match around.now {
        Some(_) => Arc::new(move || now),
        None => Arc::new(chrono::Utc::now),
    };
    let posted = mailing::round(&office, &context, &clock).await;
    let posted = posted.map_err(failed("the mail could not be seen to"))?;
    print(&format!("{}\n", mailing::in_words(&posted)));
    mailing::tell_trouble(&posted);
    Ok(match posted.trouble.is_none() && posted.waiting == 0 {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    })
}

async fn write(
    around: &Surroundings,
    arguments: &ContextArguments,
    folder: PathBuf,
) -> Result<ExitCode, CommandError> {
    let of_store = Use::Writes("digest --dry-run issues what has changed, as advise does");
    let context = Context::open(around, arguments, of_store).await?;
    context.fetch_first().await?;
    issue(&context, DAYS).await?;
    let office = match mailing::office(&context).await? {
        Some(office) => office,
        None => Arc::new(without_settings(&context)?),
    };
    let unsent = office.unsent(context.now).await;
    let unsent = unsent.map_err(failed("the mails could not be made"))?;
    let doing = || failed(format!("the folder {} cannot be written to", folder.display()));
    tokio::fs::create_dir_all(&folder).await.map_err(doing())?;
    for mail in &unsent {
        let file = folder.join(format!("{}.eml", mail.subscription));
        tokio::fs::write(&file, &mail.octets).await.map_err(doing())?;
    }
    let what = if unsent.len() == 1 {
        "1 mail".to_owned()
    } else {
        format!("{} mails", unsent.len())
    };
    print(&format!("{what} written to {}\n", folder.display()));
    Ok(ExitCode::SUCCESS)
}

/// For somebody who only wants to see a mail: invented names of a server, a sender and a service.
fn without_settings(context: &Context) -> Result<Office, CommandError> {
    let wrong = |error| CommandError::Wrong(format!("cringle: {error}"));
    let from = Sender::parse("Cringle <digest@cringle.example>").map_err(wrong)?;
    let settings = MailSettings::of_this_machine(25, from);
    let server = MailServer::new(settings).map_err(wrong)?;
    let set = context.settings.serving.public_address.clone();
    let public = set.or_else(|| PublicAddress::read("https://cringle.example"));
    let public = public.ok_or_else(|| CommandError::Wrong("cringle: no address for links".to_owned()))?;
    Ok(Office::new(
        context.store.clone(),
        server,
        public,
        context.club.slug.clone(),
    ))
}
