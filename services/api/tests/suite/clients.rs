//! Clients over a socket that are slow, hold on, ask too often, or leave; and the service told to stop amid an answer.
//!
//! Nothing here waits for a length of time: each test waits for what must happen, and the bounds are set so short that it
//! does. Source of each status: RFC 9110 and RFC 6585 (429).

use crate::shelf::{catalogue, morning, serving, with_samples};
use api::{ApiState, MetricsFor, Serving, serve};
use std::net::SocketAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Notify, oneshot};
use tokio::task::JoinHandle;

struct Served {
    address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    task: JoinHandle<std::io::Result<()>>,
}

async fn served(serving: Serving) -> Served {
    served_with(serving, |state| state).await
}

async fn served_with(serving: Serving, with: impl FnOnce(ApiState) -> ApiState) -> Served {
    let state = ApiState::new(
        with_samples().await,
        "pellock-haven",
        morning,
        None,
        catalogue(),
        serving,
    );
    let state = with(state);
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, told) = oneshot::channel::<()>();
    let task = tokio::spawn(serve(listener, state, async {
        let _told = told.await;
    }));
    Served {
        address,
        stop: Some(stop),
        task,
    }
}

impl Served {
    async fn connect(&self) -> TcpStream {
        TcpStream::connect(self.address).await.unwrap()
    }

    /// Sends octets on a new connection and reads until the other end closes it.
    async fn say(&self, words: &str) -> String {
        let mut stream = self.connect().await;
        stream.write_all(words.as_bytes()).await.unwrap();
        rest(&mut stream).await
    }
}

async fn rest(stream: &mut TcpStream) -> String {
    let mut read = Vec::new();
    // A connection that is cut may be reset as well as closed.
    let _ended = stream.read_to_end(&mut read).await;
    String::from_utf8_lossy(&read).into_owned()
}

fn hasty() -> Serving {
    Serving {
        head_within: Duration::from_millis(50),
        ..serving()
    }
}

#[tokio::test]
async fn a_client_that_drips_its_head_is_cut_off() {
    let served = served(hasty()).await;
    // The first never says anything, the second never ends its head: both connections end by themselves.
    assert_eq!(served.say("").await, "");
    let dripped = served.say("GET / HTTP/1.1\r\nHost: ").await;
    assert!(!dripped.contains("200 OK"), "{dripped}");
    // Others are served meanwhile and afterwards.
    let answer = served
        .say("GET /healthz HTTP/1.1\r\nHost: h\r\nConnection: close\r\n\r\n")
        .await;
    assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
}

#[tokio::test]
async fn a_connection_kept_open_for_nothing_is_closed() {
    let served = served(hasty()).await;
    let answer = served.say("GET /healthz HTTP/1.1\r\nHost: h\r\n\r\n").await;
    assert!(
        answer.starts_with("HTTP/1.1 200 OK") && answer.ends_with("ok\n"),
        "{answer}"
    );
}

#[tokio::test]
async fn a_client_that_never_takes_its_answers_is_cut_off() {
    let taken_within = Duration::from_millis(50);
    let served = served(Serving {
        taken_within,
        ..serving()
    })
    .await;
    let mut stream = served.connect().await;
    // It asks on without reading until both directions are full; then its writing fails, as the other end is gone.
    let request = "GET /style.css HTTP/1.1\r\nHost: h\r\n\r\n".repeat(100);
    while stream.write_all(request.as_bytes()).await.is_ok() {}
}

#[tokio::test]
async fn there_are_only_so_many_connections_and_the_next_waits_its_turn() {
    let served = served(Serving {
        connections: 1,
        ..serving()
    })
    .await;
    let mut first = served.connect().await;
    first
        .write_all(b"GET /healthz HTTP/1.1\r\nHost: h\r\n\r\n")
        .await
        .unwrap();
    let mut head = [0; 15];
    first.read_exact(&mut head).await.unwrap();
    let mut second = served.connect().await;
    second
        .write_all(b"GET /healthz HTTP/1.1\r\nHost: h\r\nConnection: close\r\n\r\n")
        .await
        .unwrap();
    let mut one = [0; 1];
    // Nothing can be there yet: its place is taken.
    let nothing = second.try_read(&mut one);
    assert!(
        matches!(&nothing, Err(error) if error.kind() == std::io::ErrorKind::WouldBlock),
        "{nothing:?}"
    );
    drop(first);
    assert!(rest(&mut second).await.starts_with("HTTP/1.1 200 OK"));
}

#[tokio::test]
async fn heads_that_are_no_http_or_far_too_long_are_refused() {
    let served = served(hasty()).await;
    for words in [
        "\x16\x03\x01 hello\r\n\r\n".to_owned(),
        "GET /\r\nHost: h HTTP/1.1\r\n\r\n".to_owned(),
        format!("GET / HTTP/1.1\r\nHost: h\r\nX: {}\r\n\r\n", "x".repeat(100_000)),
        format!("GET /{} HTTP/1.1\r\nHost: h\r\n\r\n", "x".repeat(100_000)),
    ] {
        let answer = served.say(&words).await;
        let refused = ["HTTP/1.1 400", "HTTP/1.1 414", "HTTP/1.1 431"];
        // A reset may take the refusal with it: then nothing is read.
        let told = refused.iter().any(|start| answer.starts_with(start));
        assert!(told || answer.is_empty(), "{answer}");
    }
}

#[tokio::test]
async fn told_to_stop_it_finishes_the_answer_at_hand_and_takes_no_more() {
    // Readiness asks how the sources stand: here the answer is held back until the service was told to stop.
    let (begun, go) = (Arc::new(Notify::new()), Arc::new(Notify::new()));
    let (says_begun, waits) = (begun.clone(), go.clone());
    let mut served = served_with(serving(), move |state| {
        state.with_sources(Arc::new(move |_| {
            let (says_begun, waits) = (says_begun.clone(), waits.clone());
            Box::pin(async move {
                says_begun.notify_one();
                waits.notified().await;
                Ok(Vec::new())
            })
        }))
    })
    .await;
    let mut idle = served.connect().await;
    idle.write_all(b"GET /healthz HTTP/1.1\r\nHost: h\r\n\r\n")
        .await
        .unwrap();
    let mut head = [0; 15];
    idle.read_exact(&mut head).await.unwrap();
    let mut stream = served.connect().await;
    stream
        .write_all(b"GET /readyz HTTP/1.1\r\nHost: h\r\n\r\n")
        .await
        .unwrap();
    begun.notified().await;
    served.stop.take().unwrap().send(()).unwrap();
    // The idle one is closed at once, which shows that the service is stopping.
    rest(&mut idle).await;
    assert!(!served.task.is_finished());
    go.notify_one();
    let answer = rest(&mut stream).await;
    assert!(
        answer.starts_with("HTTP/1.1 503") && answer.contains("\"ready\":false"),
        "{answer}"
    );
    served.task.await.unwrap().unwrap();
    assert!(TcpStream::connect(served.address).await.is_err());
}

#[tokio::test]
async fn who_asks_too_often_is_told_when_to_come_back_and_machines_are_not() {
    let requests_a_minute = NonZeroU32::new(2).unwrap();
    let served = served(Serving {
        requests_a_minute,
        ..serving()
    })
    .await;
    let ask = async |path: &str| {
        served
            .say(&format!(
                "GET {path} HTTP/1.1\r\nHost: h\r\nConnection: close\r\n\r\n"
            ))
            .await
    };
    for _ in 0..2 {
        assert!(ask("/style.css").await.starts_with("HTTP/1.1 200"));
    }
    let refused = ask("/style.css").await;
    assert!(refused.starts_with("HTTP/1.1 429"), "{refused}");
    let seconds = refused
        .lines()
        .find_map(|line| line.strip_prefix("retry-after: "));
    assert!(
        seconds.is_some_and(|seconds| seconds
            .parse::<u64>()
            .is_ok_and(|seconds| (1..=30).contains(&seconds))),
        "{refused}"
    );
    assert!(refused.contains("application/problem+json") && refused.contains("content-security-policy"));
    assert!(ask("/healthz").await.starts_with("HTTP/1.1 200"));
    let metrics = ask("/metrics").await;
    assert!(
        metrics.contains("cringle_requests_refused_total 1\n"),
        "{metrics}"
    );
}

// Source: OpenMetrics 1.0 (media type, one TYPE a family, names that end in their unit, `_total` of counters, `# EOF` at
// the end). No value of a label may be what a client made up.
#[tokio::test]
async fn what_is_counted_is_told_to_programs_of_this_machine() {
    let served = served(serving()).await;
    let ask = async |path: &str, more: &str| {
        served
            .say(&format!(
                "GET {path} HTTP/1.1\r\nHost: h\r\n{more}Connection: close\r\n\r\n"
            ))
            .await
    };
    for path in ["/", "/sessions/made-up", "/made-up", "/v1/clubs/made-up"] {
        ask(path, "").await;
    }
    let told = ask("/metrics", "").await;
    let (head, text) = told.split_once("\r\n\r\n").unwrap();
    assert!(
        head.contains("content-type: application/openmetrics-text; version=1.0.0; charset=utf-8"),
        "{head}"
    );
    assert!(text.ends_with("# EOF\n"), "{text}");
    assert!(!text.contains("made-up"), "{text}");
    for needed in [
        "# TYPE cringle_requests counter",
        "cringle_requests_total{route=\"/\",method=\"GET\",status=\"2xx\"} 1",
        "cringle_requests_total{route=\"/sessions/{id}\",method=\"GET\",status=\"4xx\"} 1",
        "cringle_requests_total{route=\"none\",method=\"GET\",status=\"4xx\"} 1",
        "# UNIT cringle_request_duration_seconds seconds",
        "cringle_request_duration_seconds_bucket{le=\"0.02\",route=\"/\"}",
    ] {
        assert!(text.contains(needed), "{needed}\n{text}");
    }
    // A proxy on this machine speaks for a stranger.
    for header in ["X-Forwarded-For: 192.0.2.1\r\n", "Forwarded: for=192.0.2.1\r\n"] {
        assert!(ask("/metrics", header).await.starts_with("HTTP/1.1 404"));
    }
    let nobody = self::served(Serving {
        metrics: MetricsFor::Nobody,
        ..serving()
    })
    .await;
    assert!(
        nobody
            .say("GET /metrics HTTP/1.1\r\nHost: h\r\nConnection: close\r\n\r\n")
            .await
            .starts_with("HTTP/1.1 404")
    );
}
