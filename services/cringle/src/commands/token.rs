//! `cringle token`: makes, lists and revokes the tokens of the API.
//!
//! Owns: the randomness of a secret, and that it is printed once. Must not know: how tokens are kept and checked.

use crate::context::{Surroundings, Use, moment, store_alone};
use crate::output::{CommandError, failed, print, tell};
use chrono::{DateTime, SecondsFormat, Utc};
use clap::{Args, Subcommand, ValueEnum};
use std::process::ExitCode;
use store::{NewToken, Scope, Store, Token, TokenSecret};

/// Characters of a label, at most.
const LABEL_AT_MOST: usize = 100;

/// What to do with tokens.
#[derive(Subcommand, Debug)]
pub enum TokenCommand {
    /// Make a token and print its secret: this once, for only its hash is kept
    ///
    /// The secret alone goes to standard output, what the token allows to standard error. A program shows it in the header
    /// `Authorization: Bearer SECRET`. Every secret begins with cringle_, so that leaked ones can be searched for.
    Make(MakeArguments),
    /// List the tokens that were made, those that allow nothing any more included
    List(ListArguments),
    /// Revoke a token at once and for good
    Revoke(RevokeArguments),
}

/// The token to be made.
#[derive(Args, Debug)]
pub struct MakeArguments {
    /// Short name of the club it is for
    #[arg(long, value_name = "SLUG", value_parser = slug)]
    pub club: String,
    /// What it allows; may be given several times
    #[arg(long = "scope", value_name = "SCOPE", required = true, value_enum)]
    pub scopes: Vec<ScopeChoice>,
    /// What it is for, in a few words
    #[arg(long, default_value = "", value_parser = label)]
    pub label: String,
    /// Until when it holds (RFC 3339, with its offset); until it is revoked unless given
    #[arg(long, value_name = "TIME", value_parser = moment)]
    pub expires: Option<DateTime<Utc>>,
    #[command(flatten)]
    pub store: StoreArgument,
}

/// Which tokens.
#[derive(Args, Debug)]
pub struct ListArguments {
    /// Only those of the club of this short name
    #[arg(long, value_name = "SLUG", value_parser = slug)]
    pub club: Option<String>,
    #[command(flatten)]
    pub store: StoreArgument,
}

/// The token to be revoked.
#[derive(Args, Debug)]
pub struct RevokeArguments {
    /// The token as `list` names it: the first twelve digits of the SHA-256 of its secret
    pub id: String,
    #[command(flatten)]
    pub store: StoreArgument,
}

/// Where tokens are kept.
#[derive(Args, Debug)]
pub struct StoreArgument {
    /// Store: a file, made when it is not there, or a postgres:// address; wins over `[store] url`
    #[arg(long, value_name = "STORE")]
    pub store: Option<String>,
}

/// What a token can allow.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ScopeChoice {
    /// To read a club that is not public
    Read,
    /// To keep a decision
    Decide,
    /// To read and write the club's file
    Club,
}

impl From<ScopeChoice> for Scope {
    fn from(choice: ScopeChoice) -> Self {
        match choice {
            ScopeChoice::Read => Self::Read,
            ScopeChoice::Decide => Self::Decide,
            ScopeChoice::Club => Self::Club,
        }
    }
}

/// Makes, lists or revokes.
pub async fn run(around: &Surroundings, command: TokenCommand) -> Result<ExitCode, CommandError> {
    match command {
        TokenCommand::Make(arguments) => make(around, arguments).await,
        TokenCommand::List(arguments) => list(around, arguments).await,
        TokenCommand::Revoke(arguments) => revoke(around, arguments).await,
    }
}

async fn make(around: &Surroundings, arguments: MakeArguments) -> Result<ExitCode, CommandError> {
    let named = arguments.store.store.as_deref();
    let (store, now) = store_alone(around, named, Use::Writes("token make keeps a token")).await?;
    let mut scopes: Vec<Scope> = arguments.scopes.into_iter().map(Scope::from).collect();
    scopes.sort_unstable();
    scopes.dedup();
    let new = NewToken {
        club: arguments.club,
        scopes,
        label: arguments.label,
        made_at: now,
        expires_at: arguments.expires,
    };
    if new.expires_at.is_some_and(|at| at <= now) {
        return Err(CommandError::Wrong(format!(
            "cringle: --expires is not after this moment, {}: the token would never allow anything",
            shown(now)
        )));
    }
    let mut octets = [0; 32];
    getrandom::fill(&mut octets).map_err(failed("the system gives no randomness for a secret"))?;
    let secret = TokenSecret::from_random(octets);
    let id = store.put_token(&secret, &new).await;
    let id = id.map_err(failed("the token cannot be kept"))?;
    print(&format!("{}\n", secret.exposed()));
    tell(&format!(
        "Token {id} of {}: {}, {}. Its secret is printed this once: keep it as you keep a password.",
        new.club,
        words(&new.scopes),
        holds(&new)
    ));
    if !is_known(&store, &new.club, now).await? {
        tell(&format!(
            "No file of a club {} is kept yet: is the short name right?",
            new.club
        ));
    }
    Ok(ExitCode::SUCCESS)
}

async fn is_known(store: &Store, club: &str, now: DateTime<Utc>) -> Result<bool, CommandError> {
    let newest = store.latest_club_version(club, now).await;
    Ok(newest.map_err(failed("the clubs cannot be read"))?.is_some())
}

async fn list(around: &Surroundings, arguments: ListArguments) -> Result<ExitCode, CommandError> {
    let (store, now) = store_alone(around, arguments.store.store.as_deref(), Use::Reads).await?;
    let tokens = store.tokens().await;
    let tokens = tokens.map_err(failed("the tokens cannot be read"))?;
    let mut wanted = tokens
        .iter()
        .filter(|kept| {
            arguments
                .club
                .as_ref()
                .is_none_or(|club| *club == kept.token.club)
        })
        .peekable();
    if wanted.peek().is_none() {
        tell("No token was made: `cringle token make` makes one.");
    }
    for kept in wanted {
        print(&line(kept, now));
    }
    Ok(ExitCode::SUCCESS)
}

fn line(kept: &Token, now: DateTime<Utc>) -> String {
    let token = &kept.token;
    let state = match kept.revoked_at {
        Some(at) => format!("revoked {}", shown(at)),
        None if token.expires_at.is_some_and(|at| at <= now) => format!("expired, {}", holds(token)),
        None => holds(token),
    };
    let label = match token.label.as_str() {
        "" => String::new(),
        label => format!("  \"{label}\""),
    };
    format!(
        "{}  {}  {}  made {}, {state}{label}\n",
        kept.id,
        token.club,
        words(&token.scopes),
        shown(token.made_at)
    )
}

async fn revoke(around: &Surroundings, arguments: RevokeArguments) -> Result<ExitCode, CommandError> {
    let named = arguments.store.store.as_deref();
    let (store, now) = store_alone(around, named, Use::Writes("token revoke changes a token")).await?;
    let id = arguments.id;
    let revoked = store.revoke_token(&id, now).await;
    if revoked.map_err(failed("the token cannot be revoked"))? {
        print(&format!("Token {id} is revoked: it allows nothing any more.\n"));
        return Ok(ExitCode::SUCCESS);
    }
    let tokens = store.tokens().await;
    let tokens = tokens.map_err(failed("the tokens cannot be read"))?;
    let before = tokens.iter().find(|kept| kept.id == id);
    let Some(at) = before.and_then(|kept| kept.revoked_at) else {
        // What was given may be a secret by mistake: it is not repeated.
        return Err(CommandError::Wrong(
            "cringle: no token has that name; `cringle token list` names those there are".to_owned(),
        ));
    };
    print(&format!("Token {id} was revoked before, {}.\n", shown(at)));
    Ok(ExitCode::SUCCESS)
}

fn words(scopes: &[Scope]) -> String {
    let words: Vec<&str> = scopes.iter().map(|scope| scope.word()).collect();
    words.join(", ")
}

fn holds(token: &NewToken) -> String {
    match token.expires_at {
        Some(at) => format!("holds until {}", shown(at)),
        None => "holds until it is revoked".to_owned(),
    }
}

fn shown(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// A club's short name, for clap.
fn slug(text: &str) -> Result<String, String> {
    let is_letter = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit();
    let fits = !text.is_empty() && text.bytes().all(|byte| is_letter(byte) || byte == b'-');
    fits.then(|| text.to_owned()).ok_or_else(|| {
        "a club's short name has lower-case letters, digits and hyphens: `slug` in its file".to_owned()
    })
}

/// A label, for clap.
fn label(text: &str) -> Result<String, String> {
    let fits = text.chars().count() <= LABEL_AT_MOST && !text.chars().any(char::is_control);
    fits.then(|| text.to_owned())
        .ok_or_else(|| format!("one line of at most {LABEL_AT_MOST} characters"))
}
