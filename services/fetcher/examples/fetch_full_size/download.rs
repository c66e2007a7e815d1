//! The octets of a pull and nothing else: the same byte ranges, as many requests at once, no check, no value, no store.
//!
//! Must not know: the fetcher. What it is compared with may not be its own client.

use super::Failure;
use chrono::{DateTime, Utc};
use feeds::{ByteRange, Coalescing, Feed, IndexTexts, coalesce, plan_part};
use futures_util::{StreamExt, TryStreamExt, stream};
use reqwest::Client;
use reqwest::header::RANGE;

/// Requests at once, as the fetcher sends to one host.
const AT_ONCE: usize = 4;

/// Downloads what these parts want; returns the octets of all bodies.
pub async fn download(feed: &Feed, address: &str, run: DateTime<Utc>, parts: u16) -> Result<u64, Failure> {
    let client = Client::new();
    let mut received = 0;
    let mut wanted = Vec::new();
    for part in 0..parts {
        let texts = indexes(&client, feed, address, run, part).await?;
        received += texts.iter().map(|(_, text)| text.len() as u64).sum::<u64>();
        let texts: IndexTexts = texts.into_iter().map(|(path, text)| (path, Ok(text))).collect();
        let plan = plan_part(feed, run, part, &texts);
        for of_one_file in plan.wanted.chunk_by(|a, b| a.file == b.file) {
            let ranges: Vec<ByteRange> = of_one_file.iter().map(|message| message.range).collect();
            let spans = coalesce(&ranges, Coalescing::default()).into_iter();
            wanted.extend(spans.map(|span| (format!("{address}/{}", of_one_file[0].file), span.range)));
        }
    }
    let bodies = wanted.into_iter().map(|(url, range)| body(&client, url, range));
    let bodies: Vec<u64> = stream::iter(bodies)
        .buffer_unordered(AT_ONCE)
        .try_collect()
        .await?;
    Ok(received + bodies.iter().sum::<u64>())
}

async fn indexes(
    client: &Client,
    feed: &Feed,
    address: &str,
    run: DateTime<Utc>,
    part: u16,
) -> Result<Vec<(String, String)>, Failure> {
    let asked = feed
        .index_paths_of_part(run, part)
        .into_iter()
        .map(|path| async move {
            let answer = client
                .get(format!("{address}/{path}"))
                .send()
                .await?
                .error_for_status()?;
            Ok::<_, Failure>((path, answer.text().await?))
        });
    stream::iter(asked).buffered(AT_ONCE).try_collect().await
}

/// Takes a body and lets it go, piece by piece.
async fn body(client: &Client, url: String, range: ByteRange) -> Result<u64, Failure> {
    let last = range.last.map(|last| last.to_string()).unwrap_or_default();
    let asked = client
        .get(url)
        .header(RANGE, format!("bytes={}-{last}", range.first));
    let mut answer = asked.send().await?.error_for_status()?;
    let mut octets = 0;
    while let Some(piece) = answer.chunk().await? {
        octets += piece.len() as u64;
    }
    Ok(octets)
}
