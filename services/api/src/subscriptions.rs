//! Subscriptions to a club's mail as pages and API alike deal with them: who may ask, for what, and whose a link is.
//!
//! Must not know: how a mail is made and sent, how an answer looks. Whoever asks is told the same and has the same done for an
//! address that is known, new or asked for too often; an address stands in no error and in no log.

use crate::ApiState;
use crate::client::{address, counted_as};
use crate::problem::{ApiError, FieldError};
use axum::extract::Request;
use club::{Choices, Club, EmailAddress};
use std::net::IpAddr;
use store::{LinkPurpose, NewSubscription, Subscription, TokenSecret};

/// Largest body of what is sent here, octets: some hundred keys and an address.
pub(crate) const BODY_AT_MOST: usize = 16 * 1024;

/// Whether a club's mail can be had here.
pub(crate) fn sends_mail(state: &ApiState, club: &Club) -> bool {
    state.serving.sends_mail && club.digest_at.is_some()
}

/// The same, or else that it cannot.
///
/// # Errors
/// [`ApiError::NoMail`].
pub(crate) fn must_send_mail(state: &ApiState, club: &Club) -> Result<(), ApiError> {
    sends_mail(state, club).then_some(()).ok_or(ApiError::NoMail)
}

/// What was asked for, fit to be kept.
///
/// # Errors
/// [`ApiError::Mistaken`] with every field that cannot be so.
pub(crate) fn wanted(
    club: &Club,
    typed: &str,
    choices: &Choices,
) -> Result<(EmailAddress, Choices), ApiError> {
    let address = EmailAddress::parse(typed).map_err(|error| FieldError::new("address", error.to_string()));
    match (address, chosen(club, choices)) {
        (Ok(address), Ok(choices)) => Ok((address, choices)),
        (address, choices) => Err(ApiError::Mistaken(
            address.err().into_iter().chain(choices.err()).collect(),
        )),
    }
}

/// Choices that the club offers.
///
/// # Errors
/// The field that names something else.
pub(crate) fn chosen(club: &Club, choices: &Choices) -> Result<Choices, FieldError> {
    choices
        .at(club)
        .map_err(|error| FieldError::new(error.field, error.to_string()))
}

/// Who asks, as clients are counted; none where no socket tells.
pub(crate) fn asker(state: &ApiState, request: &Request) -> Option<IpAddr> {
    let found = address(request.extensions(), request.headers(), &state.serving);
    found.map(counted_as)
}

/// Keeps what was asked for, so that a mail asks the address; or keeps nothing, for an address asked for too often. The caller
/// does not learn which.
///
/// # Errors
/// [`ApiError::TooOften`] for a client that asks for one address after the other; a store that does not answer.
pub(crate) async fn ask(
    state: &ApiState,
    club: &Club,
    (address, choices): (EmailAddress, Choices),
    asker: Option<IpAddr>,
) -> Result<(), ApiError> {
    if let Some(client) = asker {
        state.asking.take(client).map_err(|wait| {
            state.metrics.refused();
            ApiError::TooOften { wait }
        })?;
    }
    let mut octets = [0; 16];
    getrandom::fill(&mut octets).map_err(ApiError::NoRandomness)?;
    let new = NewSubscription {
        id: octets.iter().map(|octet| format!("{octet:02x}")).collect(),
        club: club.slug.clone(),
        address,
        choices,
        at: state.now(),
    };
    state.store.ask_for_subscription(&new).await?;
    Ok(())
}

/// The subscription that a link leads to, if what was shown is the secret of one that allows this now.
pub(crate) async fn of_link(
    state: &ApiState,
    shown: &str,
    purpose: LinkPurpose,
) -> Result<Option<Subscription>, ApiError> {
    match TokenSecret::parse(shown) {
        Some(secret) => of_secret(state, &secret, purpose).await,
        None => Ok(None),
    }
}

/// The same of a secret.
pub(crate) async fn of_secret(
    state: &ApiState,
    secret: &TokenSecret,
    purpose: LinkPurpose,
) -> Result<Option<Subscription>, ApiError> {
    let found = state.store.subscription_of_link(secret, purpose, state.now());
    Ok(found.await?)
}
