//! The running replica: its listener, its thread, and what its owner may ask of it.

use crate::ReplicaError;
use crate::answer::Answerer;
use crate::book::FaultBook;
use crate::connection;
use crate::seen::{Log, Seen};
use crate::settings::ReplicaSettings;
use crate::tree::OpenTree;
use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::thread::{self, JoinHandle};
use tokio::sync::oneshot;

/// A running replica on 127.0.0.1; it stops when it is dropped.
///
/// It serves on a thread of its own: it answers while its owner blocks, and an owner needs no async runtime.
pub struct Replica {
    address: SocketAddr,
    log: Arc<Log>,
    faults: Arc<FaultBook>,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Replica {
    /// Starts on a free port.
    ///
    /// # Errors
    /// The tree cannot be opened, or the system gives no port or thread.
    pub fn start(settings: ReplicaSettings) -> Result<Self, ReplicaError> {
        Self::start_at(0, settings)
    }

    /// Starts on this port of 127.0.0.1.
    ///
    /// # Errors
    /// The tree cannot be opened, or the system gives no such port or no thread.
    pub fn start_at(port: u16, settings: ReplicaSettings) -> Result<Self, ReplicaError> {
        let tree = OpenTree::open(&settings.tree)?;
        let (listener, address) = listen(port).map_err(|source| ReplicaError::Listen { port, source })?;
        let faults = Arc::new(FaultBook::default());
        let answerer = Arc::new(Answerer::new(settings, tree, Arc::clone(&faults)));
        let log = Arc::new(Log::default());
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(ReplicaError::Thread)?;
        let (stop, stopped) = oneshot::channel();
        let accepting = accept(listener, answerer, Arc::clone(&log));
        let serving = move || {
            runtime.block_on(async {
                tokio::select! {
                    _ = accepting => {}
                    _ = stopped => {}
                }
            });
            runtime.shutdown_background();
        };
        let thread = thread::Builder::new().name("replica".to_owned()).spawn(serving);
        Ok(Self {
            address,
            log,
            faults,
            stop: Some(stop),
            thread: Some(thread.map_err(ReplicaError::Thread)?),
        })
    }

    /// `http://127.0.0.1:PORT`, without a slash at its end.
    pub fn base_url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// What goes wrong; nothing does at the start.
    pub fn faults(&self) -> &FaultBook {
        &self.faults
    }

    /// What was asked since the start or [`Self::forget_requests`], in order.
    pub fn requests(&self) -> Vec<Seen> {
        self.log.all()
    }

    /// Begins the list of [`Self::requests`] anew.
    pub fn forget_requests(&self) {
        self.log.forget();
    }

    /// Stops it: open connections are closed, and the port is free when this returns.
    pub fn stop(self) {
        drop(self);
    }
}

impl Drop for Replica {
    fn drop(&mut self) {
        if let Some(stop) = self.stop.take() {
            // The thread may have ended by itself; then nobody hears it, and nobody needs to.
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            // A panic of the thread has been printed; to pass it on from here could abort the process.
            let _ = thread.join();
        }
    }
}

fn listen(port: u16) -> io::Result<(TcpListener, SocketAddr)> {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?;
    listener.set_nonblocking(true)?;
    let address = listener.local_addr()?;
    Ok((listener, address))
}

async fn accept(listener: TcpListener, answerer: Arc<Answerer>, log: Arc<Log>) -> io::Result<()> {
    let listener = tokio::net::TcpListener::from_std(listener)?;
    loop {
        // A connection that fails before it is accepted, or while it is served, is the client's affair.
        if let Ok((stream, _)) = listener.accept().await {
            let (answerer, log) = (Arc::clone(&answerer), Arc::clone(&log));
            tokio::spawn(async move {
                let _ = connection::serve(stream, answerer, log).await;
            });
        }
    }
}
