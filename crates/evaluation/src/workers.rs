//! Work on many cases with a few threads and one progress bar; results in the order of the cases.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use indicatif::{ProgressBar, ProgressStyle};

pub fn map<T: Sync, R: Send>(
    threads: usize,
    what: &str,
    items: &[T],
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let bar = bar(items.len(), what);
    let next = AtomicUsize::new(0);
    let results: Mutex<Vec<(usize, R)>> = Mutex::new(Vec::with_capacity(items.len()));
    std::thread::scope(|scope| {
        for _ in 0..threads.max(1) {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(index) else { break };
                    let result = work(item);
                    results.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push((index, result));
                    bar.inc(1);
                }
            });
        }
    });
    bar.finish_and_clear();
    let mut results = results.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    results.sort_by_key(|(index, _)| *index);
    results.into_iter().map(|(_, result)| result).collect()
}

/// Takes `count` items with a progress bar.
pub fn draw<T>(what: &str, count: usize, source: impl Iterator<Item = T>) -> Vec<T> {
    let bar = bar(count, what);
    let drawn = source.take(count).inspect(|_| bar.inc(1)).collect();
    bar.finish_and_clear();
    drawn
}

fn bar(count: usize, what: &str) -> ProgressBar {
    let style = ProgressStyle::with_template("{msg:34} {wide_bar} {pos}/{len} {eta}");
    let bar = ProgressBar::new(count as u64).with_message(what.to_owned());
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar
}
