//! Tokens. No source but where named: these are this project's own rules.

use crate::samples::after;
use crate::shelf::Shelf;
use chrono::TimeDelta;
use sqlx::Row;
use store::{NewToken, Scope, Token, TokenSecret};

on_both_backends!(
    a_token_is_found_by_its_secret_until_it_expires_or_is_revoked,
    tokens_are_listed_by_club,
    no_secret_is_kept_or_told,
);

fn secret(octet: u8) -> TokenSecret {
    TokenSecret::from_random([octet; 32])
}

fn new(club: &str, hours: i64) -> NewToken {
    NewToken {
        club: club.into(),
        scopes: vec![Scope::Decide, Scope::Read],
        label: "the quay's tablet".into(),
        made_at: after(hours),
        expires_at: None,
    }
}

async fn a_token_is_found_by_its_secret_until_it_expires_or_is_revoked(shelf: Shelf) {
    let store = shelf.open().await;
    let expiring = NewToken {
        expires_at: Some(after(10)),
        ..new("demo", 0)
    };
    let id = store.put_token(&secret(1), &expiring).await.unwrap();
    let other = store.put_token(&secret(2), &new("demo", 0)).await.unwrap();
    assert_ne!(id, other);
    let valid = async |octet, at| store.valid_token(&secret(octet), at).await.unwrap();
    let kept = Token {
        id: id.clone(),
        token: expiring,
        revoked_at: None,
    };
    assert_eq!(valid(1, after(10) - TimeDelta::seconds(1)).await, Some(kept));
    assert_eq!(valid(1, after(10)).await, None);
    assert!(valid(2, after(10_000)).await.is_some());
    assert_eq!(valid(3, after(1)).await, None);
    assert!(store.revoke_token(&id, after(3)).await.unwrap());
    assert!(!store.revoke_token(&id, after(4)).await.unwrap(), "revoked once");
    assert!(!store.revoke_token("none", after(4)).await.unwrap());
    // Revoked is revoked, whatever moment is asked about: a clock that is set back must not bring it back.
    assert_eq!(valid(1, after(1)).await, None);
    assert!(valid(2, after(1)).await.is_some(), "the other stands");
    let revoked: Vec<_> = store.tokens().await.unwrap();
    let revoked: Vec<_> = revoked.iter().filter_map(|token| token.revoked_at).collect();
    assert_eq!(revoked, [after(3)]);
    assert!(
        store.put_token(&secret(2), &new("another", 0)).await.is_err(),
        "a secret is one token's"
    );
}

async fn tokens_are_listed_by_club(shelf: Shelf) {
    let store = shelf.open().await;
    for (octet, club, hours) in [(1, "sound", 3), (2, "bay", 5), (3, "sound", 1)] {
        store.put_token(&secret(octet), &new(club, hours)).await.unwrap();
    }
    let listed: Vec<_> = store.tokens().await.unwrap();
    let listed: Vec<_> = listed.iter().map(|kept| kept.token.clone()).collect();
    assert_eq!(listed, [new("bay", 5), new("sound", 1), new("sound", 3)]);
}

// Source: CWE-256, CWE-312 (secrets kept in the clear); every column is looked at, past the store's own reading.
async fn no_secret_is_kept_or_told(shelf: Shelf) {
    let store = shelf.open().await;
    let secret = secret(0xAB);
    store.put_token(&secret, &new("demo", 0)).await.unwrap();
    let rows = sqlx::query("SELECT id, hash, club, scopes, label FROM tokens")
        .fetch_all(&shelf.raw().await)
        .await
        .unwrap();
    let kept: Vec<String> = (0..5).map(|column| rows[0].try_get(column).unwrap()).collect();
    assert_eq!(kept[1], secret.hash());
    let told = [
        kept.join(" "),
        format!("{secret:?}"),
        format!("{:?}", store.tokens().await.unwrap()),
        format!(
            "{:?}",
            store.put_token(&secret, &new("demo", 0)).await.unwrap_err()
        ),
    ];
    for words in told {
        assert!(!words.contains("abababab"), "{words}");
    }
}
