//! While the caller speaks: what is it, has it been, may it be used, what do we bring?

use std::collections::BTreeSet;

use chrono::TimeDelta;
use domain::danger::Danger;
use domain::diagnosis::telling::{TellingQuestion, answered, most_telling};
use domain::id::{ApplianceId, SiteId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Symptom;
use domain::work::{self, Precaution, REPEAT_WITHIN_DAYS};
use store::diagnosis::Diagnosed;
use store::fault_catalogue;
use store::term::{self, TermList};

pub use store::call::{Answer, NewCall};
pub use store::work_order::{Money, NewWorkOrder};

use crate::diagnosis::{Numbers, WhatIf, what_if};
use crate::repeats::Chain;
use crate::see_kitchen::{KitchenFile, SeeKitchen};

use crate::{Application, Caller, Question, Refusal};

/// A call that is being taken: nothing of it is stored.
#[derive(Debug, Clone)]
pub struct PrepareCall {
    pub site: SiteId,
    /// The machine, if it is known.
    pub appliance: Option<ApplianceId>,
    /// The first is the complaint.
    pub symptoms: Vec<Key>,
    pub dangers: Vec<Danger>,
    pub stop_use: bool,
    /// What was answered so far: question and answer.
    pub answers: Vec<(Key, Key)>,
}

/// So many questions are put to a caller at once.
const QUESTIONS: usize = 3;

#[derive(Debug)]
pub struct CallInMaking {
    pub kitchen: KitchenFile,
    /// The company's list: key, and what it means.
    pub symptoms: Vec<(String, Option<String>)>,
    /// Orders on the machine that are open or ended lately: number, when it was called, days since.
    pub been_before: Vec<Before>,
    pub precautions: Vec<Precaution>,
    /// What it would be from the complaint alone; why not, if nothing can be said.
    pub likely: Option<Result<Diagnosed, String>>,
    /// What to ask next, the most telling first; what was answered stands before it.
    pub questions: Vec<TellingQuestion>,
    /// The machine, if it is known.
    pub appliance: Option<ApplianceId>,
}

impl CallInMaking {
    /// What came back on the machine in a year.
    pub fn came_back(&self) -> impl Iterator<Item = &Chain> {
        self.kitchen.repeats.chains.iter().filter(|chain| Some(chain.appliance) == self.appliance)
    }
}

/// An earlier order on the same machine.
#[derive(Debug)]
pub struct Before {
    pub number: i64,
    pub received_at: Timestamp,
    pub is_open: bool,
    pub symptoms: Vec<Key>,
}

impl Question for PrepareCall {
    const NAME: &'static str = "prepare_call";
    type Answer = CallInMaking;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<CallInMaking, Refusal> {
        let kitchen = application.ask(caller, SeeKitchen(self.site)).await?;
        let terms = term::all(application.database(), TermList::Symptom).await?;
        let since = application.now().instant() - TimeDelta::days(REPEAT_WITHIN_DAYS);
        let is_before = |order: &&crate::see_kitchen::WorkOrder| {
            order.appliance.is_some()
                && order.appliance == self.appliance
                && (!order.state.has_ended() || order.received_at.instant() >= since)
        };
        let been_before = kitchen.orders.iter().filter(is_before).map(|order| Before {
            number: order.number,
            received_at: order.received_at,
            is_open: !order.state.has_ended(),
            symptoms: order.symptoms.clone(),
        });
        let been_before = been_before.collect();
        let likely = self.likely(application, &kitchen).await?;
        let questions = match &likely {
            Some(Ok(diagnosed)) => self.questions(application, &kitchen, diagnosed).await?,
            _ => Vec::new(),
        };
        Ok(CallInMaking {
            symptoms: terms.into_iter().map(|term| (term.key, term.description)).collect(),
            been_before,
            precautions: work::precautions(&self.dangers, self.stop_use),
            likely,
            questions,
            kitchen,
            appliance: self.appliance,
        })
    }
}

impl PrepareCall {
    /// Those that were answered, so that an answer can be changed, and those that would tell most now.
    async fn questions(
        &self,
        application: &Application,
        kitchen: &KitchenFile,
        diagnosed: &Diagnosed,
    ) -> Result<Vec<TellingQuestion>, Refusal> {
        let machine = kitchen.machines.iter().find(|(machine, _)| Some(machine.id) == self.appliance);
        let Some((machine, _)) = machine else { return Ok(Vec::new()) };
        let kept = fault_catalogue::find(application.database(), machine.model.as_str(), None).await?;
        let Some(kept) = kept else { return Ok(Vec::new()) };
        let asked: Vec<Key> = self.answers.iter().map(|(question, _)| question.clone()).collect();
        let mut questions = answered(&kept.entry, &asked);
        questions.extend(most_telling(&kept.entry, &diagnosed.diagnosis, &asked, QUESTIONS));
        Ok(questions)
    }

    /// From the complaint, once machine and complaint are known.
    async fn likely(
        &self,
        application: &Application,
        kitchen: &KitchenFile,
    ) -> Result<Option<Result<Diagnosed, String>>, Refusal> {
        let machine = kitchen.machines.iter().find(|(machine, _)| Some(machine.id) == self.appliance);
        let (Some((machine, _)), Some(complaint)) = (machine, self.symptoms.first()) else { return Ok(None) };
        let case = WhatIf {
            model: machine.model.clone(),
            model_version: Some(machine.model_version),
            complaint: complaint.as_str().parse::<Symptom>().ok(),
            answers: self.answers.clone(),
            runs: Vec::new(),
            findings: Vec::new(),
            wet_work: false,
            dangers: self.dangers.iter().copied().collect::<BTreeSet<_>>(),
            altitude_m: kitchen.site.altitude_m,
            numbers: Numbers::Newest,
        };
        match what_if(application, case).await {
            Ok(diagnosed) => Ok(Some(Ok(diagnosed))),
            Err(refusal) if refusal.is_for_the_caller() => Ok(Some(Err(refusal.to_string()))),
            Err(failure) => Err(failure),
        }
    }
}
