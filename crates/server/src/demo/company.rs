//! The simulated years of the demo company, entered through the use cases: each entry of the history by
//! the person and at the time that it names, so that rights, rules, audit and events are those of any
//! other write.

mod clerk;

use std::sync::Arc;

use application::{Application, Principal};
use simulator::company::{Company, Settings};
use tokio::sync::mpsc;
use tokio::task::JoinSet;

use super::calendar::Shift;
use super::clock::ScriptClock;
use crate::wiring::Failure;
use clerk::Clerk;

/// Which of all invented companies.
const SEED: u64 = 7;

pub fn settings() -> Settings {
    Settings::demo(SEED)
}

/// Enters all days of all branches, moved, side by side: branches know nothing of each other. `told` is called
/// with the days entered, each branch's for itself.
pub async fn enter(
    application: &Application,
    settings: Settings,
    shift: Shift,
    administrator: &Principal,
    mut told: impl FnMut(usize),
) -> Result<(), Failure> {
    let company = Company::new(settings).map_err(|error| Failure::Other(error.to_string()))?;
    let (start, branches) = (company.settings().start, company.settings().branches());
    let clerk = || {
        let clock = Arc::new(ScriptClock::at(shift.of(start)));
        let by_own_clock = application.by(Arc::<ScriptClock>::clone(&clock));
        Clerk::new(by_own_clock, clock, shift, administrator.clone())
    };
    let mut first = clerk();
    for dated in company.set_up() {
        first.enter(dated).await?;
    }
    let (sender, mut ended) = mpsc::unbounded_channel();
    let mut writing = JoinSet::new();
    for index in 0..branches {
        let (mut branch, mut clerk, sender) = (company.branch(index), clerk(), sender.clone());
        writing.spawn(async move {
            while let Some(today) = branch.next_day() {
                branch.take_truths();
                for dated in today {
                    clerk.enter(dated).await?;
                }
                // nobody listens when another branch has failed
                let _ = sender.send(());
            }
            clerk.send_readings().await
        });
    }
    drop(sender);
    let mut done = 0;
    while ended.recv().await.is_some() {
        done += 1;
        told(done);
    }
    while let Some(written) = writing.join_next().await {
        written.map_err(|error| Failure::Other(format!("a branch of the demo broke off: {error}")))??;
    }
    Ok(())
}
