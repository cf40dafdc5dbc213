//! Which parts that can be ordered are meant by the names that a catalogue of faults gives them.

use domain::diagnosis::Diagnosis;
use domain::text::Key;
use store::part::FittingPart;

/// The parts that fit the position of this name; where there is none, those that fit where a fault needs it.
pub fn that_fit<'a>(fitting: &'a [FittingPart], diagnosis: &Diagnosis, needed: &Key) -> Vec<&'a FittingPart> {
    let by_name = fitting.iter().any(|part| part.position == *needed);
    let needing = |position: &Key| {
        let mut needing = diagnosis.faults.iter().filter(|fault| fault.parts.contains(needed));
        needing.any(|fault| fault.position.key() == position.as_str())
    };
    let is_meant = |part: &&FittingPart| {
        if by_name { part.position == *needed } else { needing(&part.position) }
    };
    fitting.iter().filter(is_meant).collect()
}
