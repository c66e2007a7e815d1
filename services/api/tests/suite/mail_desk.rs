//! A service that sends mail, over a store with four clubs, and what is done in place of the service that hands mails over.

use crate::shelf::{Answer, catalogue, is_problem, morning, samples, serving};
use api::{ApiState, Serving, router};
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request};
use chrono::{DateTime, TimeDelta, Utc};
use store::{
    LinkPurpose, MailOutcome, NewClubVersion, NewLink, NewMailing, Store, Subscription, TokenSecret,
};
use tower::ServiceExt;

const CLUB: &str = include_str!("../../../../fixtures/club/small.toml");
pub const OURS: &str = "small-pontoon";
pub const OTHER: &str = "other-quay";
pub const HIDDEN: &str = "closed-quay";
pub const SILENT: &str = "silent-quay";
pub const ANNA: &str = "anna.keel@crew.example";
pub const FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");
pub const JSON: (&str, &str) = ("content-type", "application/json");

pub struct Desk {
    pub store: Store,
    pub sends_mail: bool,
}

impl Desk {
    /// Ours and the other one are public and send mail, the hidden one sends mail, the silent one is public.
    pub async fn open() -> Self {
        let store = Store::open_in_memory().await.unwrap();
        for (slug, public, digest) in [
            (OURS, true, true),
            (OTHER, true, true),
            (HIDDEN, false, true),
            (SILENT, true, false),
        ] {
            let mut text = CLUB.replace("small-pontoon", slug);
            if digest {
                text = text.replace(", public", ", digest_at = \"06:30\", public");
            }
            if !public {
                text = text.replace(", public = true", "");
            }
            let new = NewClubVersion {
                slug: slug.into(),
                version: club::parse(&text).unwrap().club.version,
                text,
                seen_at: samples()[0].issued_at.to_utc(),
            };
            assert!(store.put_club_version(&new).await.unwrap());
        }
        Self {
            store,
            sends_mail: true,
        }
    }

    pub async fn send_to(
        &self,
        club: &str,
        (method, path): (Method, &str),
        (headers, body): (&[(&str, &str)], &str),
        now: DateTime<Utc>,
    ) -> Answer {
        let serving = Serving {
            sends_mail: self.sends_mail,
            ..serving()
        };
        let store = self.store.clone();
        let state = ApiState::new(store, club, move || now, None, catalogue(), serving);
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::from(body.to_owned())).unwrap();
        let (parts, body) = router(state).oneshot(request).await.unwrap().into_parts();
        Answer {
            status: parts.status,
            headers: parts.headers,
            body: to_bytes(body, 10_000_000).await.unwrap().to_vec(),
        }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send_to(OURS, (Method::GET, path), (&[], ""), morning())
            .await
    }

    pub async fn post(&self, path: &str, body: &str) -> Answer {
        self.send_to(OURS, (Method::POST, path), (&[FORM], body), morning())
            .await
    }

    /// Asks for the mail of our club by the form.
    pub async fn asked(&self, address: &str, more: &str) {
        let body = format!("address={}{more}", address.replace('@', "%40"));
        assert_eq!(self.post("/subscribe", &body).await.status.as_u16(), 200);
    }

    /// Asks, and takes the link of the mail that asks the address.
    pub async fn link_to_confirm(&self, address: &str, more: &str, octet: u8) -> String {
        self.asked(address, more).await;
        self.next_link(address, LinkPurpose::Confirm, octet).await
    }

    /// The link of the mail that waits for an address, as it would be put into it; it holds for two days.
    pub async fn next_link(&self, address: &str, purpose: LinkPurpose, octet: u8) -> String {
        let until = morning() + TimeDelta::minutes(10);
        let claimed = self.store.claim_mails("test", (morning(), until), 10).await;
        let mut to_it = Vec::new();
        for mail in claimed.unwrap() {
            let found = self.store.subscription(&mail.key.subscription).await.unwrap();
            if found.is_some_and(|one| one.address.exposed() == address) {
                to_it.push(mail);
            }
        }
        let [mail] = to_it.try_into().unwrap();
        let link = NewLink {
            secret: TokenSecret::from_random([octet; 32]),
            purpose,
            expires_at: morning() + TimeDelta::days(2),
        };
        let begun = self.store.begin_mail(&mail.key, "test", morning(), &link).await;
        assert!(begun.unwrap());
        let sent = self
            .store
            .end_mail(&mail.key, "test", &MailOutcome::Sent, morning());
        sent.await.unwrap();
        self.store.release_mails("test").await.unwrap();
        link.secret.exposed().to_owned()
    }

    /// A confirmed subscription of our club, with the link of its first mail.
    pub async fn subscribed(&self, address: &str, more: &str, octet: u8) -> String {
        let secret = self.link_to_confirm(address, more, octet).await;
        let confirmed = self.post(&format!("/confirm/{secret}"), "confirm=yes").await;
        assert_eq!(confirmed.status.as_u16(), 200, "{}", confirmed.text());
        let mailing = NewMailing {
            club: OURS.into(),
            name: format!("day/{octet}"),
            body: b"a day".to_vec(),
            made_at: morning(),
            ends_at: morning() + TimeDelta::days(1),
        };
        assert!(self.store.put_mailing(&mailing).await.unwrap());
        self.next_link(address, LinkPurpose::Manage, octet + 1).await
    }

    /// Whose a link is.
    pub async fn of(&self, secret: &str, purpose: LinkPurpose) -> Option<Subscription> {
        let secret = TokenSecret::parse(secret).unwrap();
        let found = self.store.subscription_of_link(&secret, purpose, morning());
        found.await.unwrap()
    }

    pub async fn managed(&self, secret: &str) -> Subscription {
        self.of(secret, LinkPurpose::Manage).await.unwrap()
    }

    /// Mails that wait to be sent.
    pub async fn waiting(&self) -> usize {
        let later = morning() + TimeDelta::minutes(30);
        let until = later + TimeDelta::minutes(10);
        let claimed = self
            .store
            .claim_mails("count", (later, until), 1000)
            .await
            .unwrap();
        self.store.release_mails("count").await.unwrap();
        claimed.len()
    }
}

/// A page of a link: kept nowhere, and its address told to nobody.
pub fn is_secret(answer: &Answer, status: u16, words: &str) {
    assert_eq!(answer.status.as_u16(), status, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    assert_eq!(answer.header("cache-control"), "no-store");
    assert_eq!(answer.header("referrer-policy"), "no-referrer");
    assert!(!answer.headers.contains_key("set-cookie"));
    let page = answer.text();
    assert!(page.contains(words), "no {words} in {page}");
    assert!(page.contains("The skipper on the water decides"), "{page}");
    assert!(!page.contains("cringle_"), "the secret is on the page");
    assert!(!page.contains(ANNA), "the address is on the page");
}

/// A problem with 422 that names this field, and repeats nothing of what was sent.
pub fn is_mistaken(answer: &Answer, field: &str, sent: &str) {
    is_problem(answer, 422);
    assert_eq!(answer.json()["errors"][0]["field"], field, "{}", answer.text());
    assert!(!answer.text().contains(sent), "{}", answer.text());
}
