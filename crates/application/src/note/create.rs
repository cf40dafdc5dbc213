use chrono::TimeDelta;
use store::UnitOfWork;
use store::note::{self, NewNote, Note};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::hold;
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Further ahead nobody promises to ring.
const FURTHEST: TimeDelta = TimeDelta::days(366);

/// Notes something about an order; a closed one too takes what is remembered later, but nobody is rung back about it.
pub struct CreateNote(pub NewNote);

impl UseCase for CreateNote {
    const NAME: &'static str = "create_note";
    type Outcome = Created<Note>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        if note::get(unit, new.id).await?.is_none_or(|known| known.work_order != new.work_order) {
            if new.ring_back_at.is_some() {
                held.require_open()?;
            }
            Refusal::unless_faultless(faults(unit, &new).await?)?;
        }
        let creation = note::insert(unit, &new, caller.principal.person, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "note")?;
        if is_new {
            unit.record(held.change("note.created", new.id));
        }
        let item = written(note::get(unit, new.id).await?, "note")?;
        Ok(Created { item, is_new })
    }
}

async fn faults(unit: &mut UnitOfWork, new: &NewNote) -> Result<Vec<Fault>, Refusal> {
    let mut faults = Vec::new();
    let now = unit.now();
    if let Some(at) = new.ring_back_at {
        let ahead = at.instant() - now.instant();
        if ahead < TimeDelta::zero() || ahead > FURTHEST {
            let detail = format!("lies between now, {now}, and a year from now");
            faults.push(Fault::at("/ring_back_at", detail));
        }
    }
    if let Some(settled) = new.settles {
        let asked = note::get(unit, settled).await?.filter(|note| note.work_order == new.work_order);
        let wrong = match &asked {
            None => Some("no note of this order has this id"),
            Some(note) if note.ring_back_at.is_none() => Some("that note asks nobody to ring back"),
            Some(note) if note.settled_by.is_some() => Some("another note says already that this was done"),
            Some(_) => None,
        };
        faults.extend(wrong.map(|detail| Fault::at("/settles", detail)));
    }
    Ok(faults)
}
