//! How many streams are open, so that one person's cannot become everybody's load.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::id::PersonId;

use crate::problem::{Kind, Problem};

/// A browser holds one for all its pages; a person has some browsers, a program some workers.
const OF_ONE_PERSON: usize = 20;

#[derive(Debug, Clone, Default)]
pub struct Followers(Arc<Mutex<HashMap<PersonId, usize>>>);

/// An open stream, counted until it is dropped.
#[derive(Debug)]
pub struct Following {
    followers: Followers,
    person: PersonId,
}

impl Followers {
    pub fn begin(&self, person: PersonId) -> Result<Following, Problem> {
        let mut open = self.open();
        let of_person = open.entry(person).or_default();
        if *of_person >= OF_ONE_PERSON {
            let detail = format!("{OF_ONE_PERSON} streams of this person are open; end one of them");
            return Err(Problem::new(Kind::TOO_MANY, detail));
        }
        *of_person += 1;
        Ok(Following { followers: self.clone(), person })
    }

    fn open(&self) -> MutexGuard<'_, HashMap<PersonId, usize>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Following {
    fn drop(&mut self) {
        let mut open = self.followers.open();
        let Some(of_person) = open.get_mut(&self.person) else { return };
        *of_person -= 1;
        if *of_person == 0 {
            open.remove(&self.person);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_person_has_so_many_streams_and_others_are_not_concerned() {
        let followers = Followers::default();
        let person = |n: u8| {
            let id = uuid::Builder::from_unix_timestamp_millis(1, &[n; 10]).into_uuid();
            PersonId::try_from(id).unwrap()
        };
        let mut open: Vec<_> = (0..OF_ONE_PERSON).map(|_| followers.begin(person(1)).unwrap()).collect();
        assert!(followers.begin(person(1)).is_err());
        assert!(followers.begin(person(2)).is_ok());
        open.pop();
        assert!(followers.begin(person(1)).is_ok());
        drop(open);
        assert!(followers.open().is_empty(), "nobody is remembered");
    }
}
