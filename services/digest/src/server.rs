//! One conversation with the mail server, stage by stage, so that each fault is known by its stage.
//!
//! Owns: connecting, TLS, the login, handing one mail over. Must not know: whose mail it is, what follows from a fault.

use crate::bounded::Bounded;
use crate::fault::{Fault, Stage};
use crate::settings::{Encryption, MailSettings, SettingsError};
use lettre::Address;
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::{Credentials, Mechanism};
use lettre::transport::smtp::client::{AsyncSmtpConnection, Certificate, TlsParameters};
use lettre::transport::smtp::commands::{Data, Mail, Rcpt};
use lettre::transport::smtp::extension::ClientId;
use std::error::Error as _;
use std::fmt;
use std::time::Duration;
use tokio::net::TcpStream;

/// Mails handed over on one connection: many servers close one that brings more (no source: common practice).
const MAILS_A_CONNECTION: u32 = 100;

const BEGINS: &[u8] = b"-----BEGIN CERTIFICATE-----";

/// A mail server, not yet reached.
#[derive(Clone)]
pub struct MailServer {
    settings: MailSettings,
    tls: Option<TlsParameters>,
    hello: ClientId,
}

/// A connection, logged in.
pub(crate) struct Conversation {
    connection: AsyncSmtpConnection,
    mails: u32,
}

impl fmt::Debug for MailServer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("MailServer")
            .field("settings", &self.settings)
            .finish_non_exhaustive()
    }
}

impl MailServer {
    /// Nothing is reached yet.
    ///
    /// # Errors
    /// [`SettingsError::Roots`] for certificates that are none.
    pub fn new(settings: MailSettings) -> Result<Self, SettingsError> {
        let tls = match settings.encryption {
            Encryption::None => None,
            Encryption::StartTls | Encryption::Implicit => Some(tls(&settings)?),
        };
        // Who greets is known by the name mail is sent in: the machine's own name tells others more than they need.
        let hello = ClientId::Domain(settings.from.domain().to_owned());
        Ok(Self { settings, tls, hello })
    }

    /// The settings.
    pub fn settings(&self) -> &MailSettings {
        &self.settings
    }

    /// How long handing over one mail can take at most, with some to spare: so long a claim must last.
    pub(crate) fn longest(&self) -> Duration {
        self.settings.timeout * 10 + Duration::from_secs(60)
    }

    /// Connects, as far as a mail can be handed over.
    pub(crate) async fn connect(&self) -> Result<Conversation, Fault> {
        let patience = self.settings.timeout;
        let reached = tokio::time::timeout(patience, self.reach()).await;
        let mut connection =
            reached.unwrap_or_else(|_| Err(Fault::slow(Stage::Greeting, patience.as_secs())))?;
        if let (Encryption::StartTls, Some(tls)) = (self.settings.encryption, self.tls.clone()) {
            let secret = connection.starttls(tls, &self.hello);
            self.within(Stage::Tls, 1, secret).await?;
        }
        if let Some(login) = &self.settings.login {
            let credentials = Credentials::new(login.user.clone(), login.password.clone());
            let shown = connection.auth(&[Mechanism::Plain, Mechanism::Login], &credentials);
            self.within(Stage::Login, 1, shown).await?;
        }
        Ok(Conversation { connection, mails: 0 })
    }

    /// Connects and reads the greeting. Who has not shown a certificate yet cannot say more at a time than is bearable.
    async fn reach(&self) -> Result<AsyncSmtpConnection, Fault> {
        let address = (self.settings.host.as_str(), self.settings.port);
        let greeted = match (self.settings.encryption, &self.tls) {
            (Encryption::Implicit, Some(tls)) => {
                AsyncSmtpConnection::connect_tokio1(address, None, &self.hello, Some(tls.clone()), None).await
            }
            _ => {
                let connected = TcpStream::connect(address).await;
                let stream = connected.map_err(|error| Fault::unreachable(&error))?;
                let stream = Box::new(Bounded::new(stream));
                AsyncSmtpConnection::connect_with_transport(stream, &self.hello).await
            }
        };
        greeted.map_err(|error| match is_of_tls(&error) {
            true => Fault::at(Stage::Tls, &error),
            false => Fault::at(Stage::Greeting, &error),
        })
    }

    /// Hands one mail over. After a fault the conversation is over.
    pub(crate) async fn hand_over(
        &self,
        conversation: &mut Conversation,
        to: &Address,
        mail: &[u8],
    ) -> Result<(), Fault> {
        conversation.mails += 1;
        let connection = &mut conversation.connection;
        let from = Some(self.settings.from.mailbox().email.clone());
        self.within(Stage::Sender, 1, connection.command(Mail::new(from, Vec::new())))
            .await?;
        self.within(
            Stage::Recipient,
            1,
            connection.command(Rcpt::new(to.clone(), Vec::new())),
        )
        .await?;
        self.within(Stage::Data, 1, connection.command(Data)).await?;
        self.within(Stage::Taken, 2, connection.message(mail)).await?;
        Ok(())
    }

    /// At least twice as long for the answer to the whole (RFC 5321, section 4.5.3.2.6).
    async fn within<T>(
        &self,
        stage: Stage,
        times: u32,
        work: impl Future<Output = Result<T, Error>>,
    ) -> Result<T, Fault> {
        let patience = self.settings.timeout * times;
        match tokio::time::timeout(patience, work).await {
            Ok(Ok(done)) => Ok(done),
            Ok(Err(error)) => Err(Fault::at(stage, &error)),
            Err(_) => Err(Fault::slow(stage, patience.as_secs())),
        }
    }
}

impl Conversation {
    /// Whether it has brought enough.
    pub(crate) fn is_worn(&self) -> bool {
        self.mails >= MAILS_A_CONNECTION
    }

    /// Takes leave; a server that does not answer is left all the same.
    pub(crate) async fn end(mut self) {
        let _answer = tokio::time::timeout(Duration::from_secs(5), self.connection.quit()).await;
    }
}

fn tls(settings: &MailSettings) -> Result<TlsParameters, SettingsError> {
    let mut builder = TlsParameters::builder(settings.host.clone());
    if !settings.roots.is_empty() {
        // Text without a certificate in it would be taken for no further root.
        let pem = settings
            .roots
            .windows(BEGINS.len())
            .any(|window| window == BEGINS);
        let further = Certificate::from_pem(&settings.roots)
            .ok()
            .filter(|_| pem)
            .ok_or(SettingsError::Roots)?;
        builder = builder.add_root_certificate(further);
    }
    builder.build_rustls().map_err(|_| SettingsError::Roots)
}

/// Where TLS comes first, its failure is told as one to connect: octets that are none of TLS, or a certificate that is not believed, are
/// invalid data to the library.
fn is_of_tls(error: &Error) -> bool {
    let causes = std::iter::successors(error.source(), |&cause| cause.source());
    let mut of_io = causes.filter_map(|cause| cause.downcast_ref::<std::io::Error>());
    of_io.any(|cause| cause.kind() == std::io::ErrorKind::InvalidData)
}
