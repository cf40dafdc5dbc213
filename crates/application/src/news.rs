//! Wakes all who wait for what happens, by one look at the feed.

use std::time::Duration;

use store::feed::{self, Place};
use tokio::sync::watch;

use crate::Application;

const LOOK_EVERY: Duration = Duration::from_millis(500);

/// Where the feed ended when it was looked at last; the same for all copies of an [`Application`].
#[derive(Debug)]
pub(crate) struct LastLook(watch::Sender<Option<Place>>);

/// The news of one who waits.
#[derive(Debug)]
pub struct News(watch::Receiver<Option<Place>>);

impl Default for LastLook {
    fn default() -> Self {
        Self(watch::Sender::new(None))
    }
}

impl News {
    /// Returns when the feed ends elsewhere than before.
    pub async fn happens(&mut self) {
        if self.0.changed().await.is_err() {
            // Nobody looks any more: nothing will happen.
            std::future::pending::<()>().await;
        }
    }
}

impl Application {
    pub fn news(&self) -> News {
        News(self.last_look().0.subscribe())
    }

    /// Looks where the feed ends while anybody waits for it, again and again; goes on when the database is away.
    pub async fn keep_telling(self) {
        loop {
            let told = &self.last_look().0;
            if told.receiver_count() > 0 {
                match feed::stand(self.database(), None).await {
                    Ok(standing) => {
                        told.send_if_modified(|last| last.replace(standing.end) != Some(standing.end));
                    }
                    Err(error) => tracing::debug!(%error, "nobody can be told what happens"),
                }
            }
            tokio::time::sleep(LOOK_EVERY).await;
        }
    }
}
