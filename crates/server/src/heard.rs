//! Whether a request was heard to its end. Whoever is answered before, as a stranger is, may still be sending: his connection is
//! closed after the answer. It says so, or he would send his next request into a reset.

use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};

use axum::body::{Body, Bytes, HttpBody};
use axum::http::{HeaderValue, Request, Response, Version, header};
use hyper::body::{Frame, Incoming, SizeHint};

/// Tells whether a body was read to its end.
#[derive(Debug, Clone)]
pub struct Heard {
    whole: Arc<AtomicBool>,
    version: Version,
}

impl Heard {
    /// The request as it is handed on, and what tells of its end.
    pub fn of(request: Request<Incoming>) -> (Request<Body>, Self) {
        let whole = Arc::new(AtomicBool::new(request.body().is_end_stream()));
        let heard = Self { whole: Arc::clone(&whole), version: request.version() };
        (request.map(|body| Body::new(Listening { body, whole })), heard)
    }

    /// The answer, which says that the connection ends if the request was not heard to its end.
    pub fn or_close<B>(&self, mut answer: Response<B>) -> Response<B> {
        if !self.whole.load(Ordering::Relaxed) && self.version < Version::HTTP_2 {
            answer.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
        }
        answer
    }
}

struct Listening {
    body: Incoming,
    whole: Arc<AtomicBool>,
}

impl HttpBody for Listening {
    type Data = Bytes;
    type Error = hyper::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, hyper::Error>>> {
        let polled = Pin::new(&mut self.body).poll_frame(context);
        if matches!(polled, Poll::Ready(None)) || self.body.is_end_stream() {
            self.whole.store(true, Ordering::Relaxed);
        }
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}
