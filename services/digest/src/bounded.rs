//! A connection on which the other side cannot say more at a time than a mail server has to say: a line without end must not fill the memory.
//!
//! Must not know: SMTP, who is at the other end.

use lettre::transport::smtp::client::AsyncTokioStream;
use std::fmt;
use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;

/// Octets read between two that are written, at most: far more than the longest reply or the certificates of a TLS server (no source:
/// common practice).
const AT_A_TIME: usize = 256 << 10;

/// The connection.
pub(crate) struct Bounded<S> {
    stream: S,
    read: usize,
}

impl<S> Bounded<S> {
    /// Nothing was read yet.
    pub(crate) fn new(stream: S) -> Self {
        Self { stream, read: 0 }
    }
}

impl<S> fmt::Debug for Bounded<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Bounded")
            .field("read", &self.read)
            .finish_non_exhaustive()
    }
}

impl AsyncTokioStream for Bounded<TcpStream> {
    fn peer_addr(&self) -> io::Result<SocketAddr> {
        self.stream.peer_addr()
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Bounded<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.read >= AT_A_TIME {
            return Poll::Ready(Err(io::Error::other(
                "it says more than a mail server has to say",
            )));
        }
        let before = buffer.filled().len();
        let polled = Pin::new(&mut self.stream).poll_read(context, buffer);
        self.read += buffer.filled().len() - before;
        polled
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Bounded<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        octets: &[u8],
    ) -> Poll<io::Result<usize>> {
        self.read = 0;
        Pin::new(&mut self.stream).poll_write(context, octets)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    // No source: the project's own rule.
    #[tokio::test]
    async fn so_much_is_read_at_a_time_and_again_after_a_word_of_ours() {
        let (here, mut there) = duplex(4 * AT_A_TIME);
        there.write_all(&vec![b'2'; 3 * AT_A_TIME]).await.unwrap();
        let mut bounded = Bounded::new(here);
        let mut buffer = vec![0; AT_A_TIME];
        bounded.read_exact(&mut buffer).await.unwrap();
        assert!(bounded.read(&mut buffer).await.is_err(), "no octet more");
        bounded.write_all(b"NOOP\r\n").await.unwrap();
        bounded.read_exact(&mut buffer).await.unwrap();
        assert!(bounded.read(&mut buffer).await.is_err());
    }
}
