//! Places among the requests worked on, so that what is begun is ended in time however much is asked.
//!
//! A request takes its place when all of it has come, so that a slow sender holds none. Each token has a share, so that one
//! alone shuts out nobody. Who finds no place waits for a bounded time: people first, programs after them.

use std::collections::{HashMap, HashSet, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::http::{HeaderValue, header};
use tokio::sync::oneshot;

use crate::problem::{Kind, Problem};

/// Whose request it is: told by the token, before anybody is asked who holds it.
pub type Holder = [u8; 16];

/// One token works on a quarter of the places at most,
const SHARE: usize = 4;
/// has so many requests for each place under way, those included whose bodies still come,
const UNDER_WAY: usize = 4;
/// and all together wait with so many for each place.
const WAITING: usize = 16;

#[derive(Debug, Clone)]
pub struct Places(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    places: usize,
    longest_wait: Duration,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    free: usize,
    share: usize,
    holders: HashMap<Holder, Held>,
    people: VecDeque<Waiter>,
    programs: VecDeque<Waiter>,
    /// Tokens that turned out to be a program's; whoever is not known yet is taken for a person.
    known_programs: HashSet<Holder>,
}

#[derive(Debug, Default)]
struct Held {
    under_way: usize,
    worked_on: usize,
}

#[derive(Debug)]
struct Waiter {
    holder: Holder,
    call: oneshot::Sender<Place>,
}

/// A request under way, counted to its token until it is dropped.
#[derive(Debug)]
pub struct UnderWay {
    places: Places,
    holder: Holder,
}

/// A place, free again when it is dropped.
#[derive(Debug)]
pub struct Place(Option<(Places, Holder)>);

impl Places {
    pub fn new(places: usize, longest_wait: Duration) -> Self {
        let state = State {
            free: places,
            share: (places / SHARE).max(1),
            holders: HashMap::new(),
            people: VecDeque::new(),
            programs: VecDeque::new(),
            known_programs: HashSet::new(),
        };
        Self(Arc::new(Inner { places, longest_wait, state: Mutex::new(state) }))
    }

    /// Counts a request whose head has come, or refuses it.
    pub fn enter(&self, holder: Holder) -> Result<UnderWay, Problem> {
        let mut state = self.state();
        let is_full = self.0.places == 0
            || state.holders.get(&holder).is_some_and(|held| held.under_way >= self.0.places * UNDER_WAY);
        if is_full {
            return Err(full());
        }
        state.holders.entry(holder).or_default().under_way += 1;
        Ok(UnderWay { places: self.clone(), holder })
    }

    /// Remembers whether a token is a program's.
    pub fn note(&self, holder: Holder, is_program: bool) {
        let mut state = self.state();
        if is_program {
            state.known_programs.insert(holder);
        } else {
            state.known_programs.remove(&holder);
        }
    }

    /// Whether a request that comes now would find no room to wait: told before anything is spent on it. `holder` is asked
    /// only where programs wait, whose turns people may take.
    pub fn turns_away(&self, holder: impl FnOnce() -> Option<Holder>) -> bool {
        let mut state = self.state();
        if state.waiting() < self.room_to_wait() {
            return false;
        }
        state.forget_those_who_left();
        let is_full = state.waiting() >= self.room_to_wait();
        is_full
            && (state.programs.is_empty()
                || holder().is_some_and(|holder| state.known_programs.contains(&holder)))
    }

    fn room_to_wait(&self) -> usize {
        self.0.places * WAITING
    }

    /// A place now, or the wait for one.
    fn ask(&self, holder: Holder) -> Result<oneshot::Receiver<Place>, Problem> {
        let (call, called) = oneshot::channel();
        let mut state = self.state();
        state.forget_those_who_left();
        let is_program = state.known_programs.contains(&holder);
        if state.waiting() >= self.room_to_wait() {
            // A person takes the last program's turn.
            if is_program || state.programs.pop_back().is_none() {
                return Err(full());
            }
        }
        let queue = if is_program { &mut state.programs } else { &mut state.people };
        queue.push_back(Waiter { holder, call });
        self.call_the_next(&mut state);
        Ok(called)
    }

    fn call_the_next(&self, state: &mut State) {
        while state.free > 0 {
            let Some(Waiter { holder, call }) = state.next() else { break };
            if let Err(mut unwanted) = call.send(Place(Some((self.clone(), holder)))) {
                // Its drop would ask for the lock that is held here.
                unwanted.0 = None;
                continue;
            }
            state.free -= 1;
            state.holders.entry(holder).or_default().worked_on += 1;
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn waiting(&self) -> usize {
        self.people.len() + self.programs.len()
    }

    /// The first in line whose token has not its share already.
    fn next(&mut self) -> Option<Waiter> {
        let (holders, share) = (&self.holders, self.share);
        let may = |waiter: &Waiter| holders.get(&waiter.holder).is_none_or(|held| held.worked_on < share);
        for queue in [&mut self.people, &mut self.programs] {
            if let Some(index) = queue.iter().position(may) {
                return queue.remove(index);
            }
        }
        None
    }

    fn forget_those_who_left(&mut self) {
        for queue in [&mut self.people, &mut self.programs] {
            queue.retain(|waiter| !waiter.call.is_closed());
        }
    }
}

impl UnderWay {
    /// Waits for a place, for a bounded time.
    pub async fn place(&self) -> Result<Place, Problem> {
        let called = self.places.ask(self.holder)?;
        match tokio::time::timeout(self.places.0.longest_wait, called).await {
            Ok(Ok(place)) => Ok(place),
            _ => Err(full()),
        }
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        let mut state = self.places.state();
        let Some(held) = state.holders.get_mut(&self.holder) else { return };
        held.under_way = held.under_way.saturating_sub(1);
        if held.under_way == 0 && held.worked_on == 0 {
            state.holders.remove(&self.holder);
        }
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let Some((places, holder)) = self.0.take() else { return };
        let mut state = places.state();
        state.free += 1;
        if let Some(held) = state.holders.get_mut(&holder) {
            held.worked_on = held.worked_on.saturating_sub(1);
            if held.under_way == 0 && held.worked_on == 0 {
                state.holders.remove(&holder);
            }
        }
        places.call_the_next(&mut state);
    }
}

pub(crate) fn full() -> Problem {
    let detail = "too many requests are being worked on; wait as Retry-After says";
    Problem::new(Kind::OVERLOADED, detail).with_header(header::RETRY_AFTER, HeaderValue::from_static("1"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LONG: Duration = Duration::from_mins(10);

    fn holder(n: u8) -> Holder {
        [n; 16]
    }

    fn asks(places: &Places, n: u8) -> oneshot::Receiver<Place> {
        places.ask(holder(n)).expect("room to wait")
    }

    #[test]
    fn one_token_works_on_its_share_alone_and_leaves_the_rest_to_others() {
        let places = Places::new(8, LONG);
        let mut flood: Vec<_> = (0..50).map(|_| asks(&places, 1)).collect();
        let taken: Vec<_> = flood.iter_mut().filter_map(|turn| turn.try_recv().ok()).collect();
        assert_eq!(taken.len(), 2, "a quarter of eight");
        for other in 2..5 {
            assert!(asks(&places, other).try_recv().is_ok(), "another token finds a place");
        }
        drop(taken);
        let next: Vec<_> = flood.iter_mut().filter_map(|turn| turn.try_recv().ok()).collect();
        assert_eq!(next.len(), 2, "its next come on");
    }

    #[test]
    fn people_go_before_programs_and_take_their_turns_when_the_queue_is_full() {
        let places = Places::new(1, LONG);
        for program in 100..120 {
            places.note(holder(program), true);
        }
        let mut working = asks(&places, 1);
        let place = working.try_recv().unwrap();
        let mut programs: Vec<_> = (100..116).map(|program| asks(&places, program)).collect();
        assert!(places.ask(holder(119)).is_err(), "sixteen wait for the place: no more programs");
        assert!(places.turns_away(|| Some(holder(119))) && !places.turns_away(|| Some(holder(2))));
        assert!(!places.turns_away(|| None), "whoever is not known yet is taken for a person");
        let mut person = asks(&places, 2);
        assert!(programs.pop().unwrap().try_recv().is_err(), "the last program gave its turn");
        drop(place);
        let place = person.try_recv().expect("the person goes first, though he came last");
        drop(place);
        assert!(programs[0].try_recv().is_ok(), "then the first program");
    }

    #[test]
    fn who_hangs_up_while_waiting_leaves_no_place_taken() {
        let places = Places::new(1, LONG);
        let place = asks(&places, 1).try_recv().unwrap();
        drop(asks(&places, 2));
        let left: Vec<_> = (4..20).map(|n| asks(&places, n)).collect();
        assert!(places.turns_away(|| None), "sixteen people wait for the place");
        drop(left);
        assert!(!places.turns_away(|| None), "they hung up");
        let called_too_late = asks(&places, 3);
        drop(place);
        // It was called, and its place lies unread.
        drop(called_too_late);
        assert!(asks(&places, 4).try_recv().is_ok());
        let state = places.state();
        assert!(state.people.is_empty());
    }

    #[test]
    fn bodies_on_their_way_are_bounded_by_token_and_hold_no_place() {
        let places = Places::new(2, LONG);
        let slow: Vec<_> = (0..8).map(|_| places.enter(holder(1)).unwrap()).collect();
        assert!(places.enter(holder(1)).is_err(), "four for each place");
        let other = places.enter(holder(2)).expect("another token is not concerned");
        assert!(asks(&places, 2).try_recv().is_ok());
        drop((slow, other));
        assert!(places.state().holders.is_empty(), "nothing is remembered of those who are done");
    }

    #[tokio::test]
    async fn nobody_waits_for_ever() {
        let places = Places::new(1, Duration::from_millis(1));
        let (one, two) = (places.enter(holder(1)).unwrap(), places.enter(holder(2)).unwrap());
        let _place = one.place().await.unwrap();
        assert!(two.place().await.is_err());
    }
}
