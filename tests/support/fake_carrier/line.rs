//! Connections that the stand-in can break in the middle of a call, so that the caller sees no answer at all.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::extract::connect_info::Connected;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::serve::IncomingStream;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};

use super::pause;

/// A handle that breaks its connection: whatever is answered then never leaves.
#[derive(Debug, Clone)]
pub struct Cut(Arc<AtomicBool>);

impl Cut {
    /// An answer that never leaves.
    pub fn answer(&self) -> Response {
        self.0.store(true, Ordering::SeqCst);
        StatusCode::OK.into_response()
    }
}

/// Connections that can be cut.
pub struct Lines(pub TcpListener);

pub struct Line {
    stream: TcpStream,
    cut: Arc<AtomicBool>,
}

impl axum::serve::Listener for Lines {
    type Io = Line;
    type Addr = Cut;

    async fn accept(&mut self) -> (Line, Cut) {
        loop {
            if let Ok((stream, _)) = self.0.accept().await {
                let _ = stream.set_nodelay(true);
                let cut = Arc::new(AtomicBool::new(false));
                return (Line { stream, cut: Arc::clone(&cut) }, Cut(cut));
            }
            pause(Duration::from_millis(10)).await;
        }
    }

    fn local_addr(&self) -> io::Result<Cut> {
        Ok(Cut(Arc::default()))
    }
}

impl Connected<IncomingStream<'_, Lines>> for Cut {
    fn connect_info(stream: IncomingStream<'_, Lines>) -> Self {
        stream.remote_addr().clone()
    }
}

impl Line {
    fn intact(&self) -> io::Result<()> {
        if self.cut.load(Ordering::SeqCst) { Err(io::ErrorKind::ConnectionReset.into()) } else { Ok(()) }
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Line {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        self.intact()?;
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.intact()?;
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
