use domain::id::WorkOrderId;
use domain::text::Key;
use store::diagnosis::Diagnosed;
use store::outcome_snapshot::{self, OutcomeSnapshot};
use store::part::{self, FittingPart};

use super::{Numbers, WhatIf, of_order, what_if};
use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What is probably wrong with the machine of an order.
#[derive(Debug, Clone, Copy)]
pub struct GetDiagnosis {
    pub order: WorkOrderId,
    /// The one in which the machine is now, unless said.
    pub epoch: Option<u32>,
    pub numbers: Numbers,
}

/// A diagnosis with the parts that fit the machine.
#[derive(Debug)]
pub struct WithParts<T> {
    pub of: T,
    /// None where nothing was diagnosed.
    pub fitting: Vec<FittingPart>,
}

impl Question for GetDiagnosis {
    const NAME: &'static str = "get_work_order_diagnosis";
    type Answer = WithParts<Diagnosed>;

    async fn answer(
        self,
        application: &Application,
        caller: &Caller,
    ) -> Result<WithParts<Diagnosed>, Refusal> {
        let scope = caller.read_scope();
        let diagnosed = of_order(application, &scope, self.order, self.epoch, self.numbers).await?;
        let of = diagnosed.ok_or(Refusal::NotFound { what: "work order" })?;
        let fitting = fitting(application, &of.model).await?;
        Ok(WithParts { of, fitting })
    }
}

/// What would be diagnosed of a case that nobody keeps.
#[derive(Debug)]
pub struct Diagnose(pub WhatIf);

impl Question for Diagnose {
    const NAME: &'static str = "diagnose";
    type Answer = WithParts<Diagnosed>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<WithParts<Diagnosed>, Refusal> {
        let of = what_if(application, self.0).await?;
        let fitting = fitting(application, &of.model).await?;
        Ok(WithParts { of, fitting })
    }
}

/// What an order was closed on.
#[derive(Debug, Clone, Copy)]
pub struct GetOutcomeSnapshot(pub WorkOrderId);

impl Question for GetOutcomeSnapshot {
    const NAME: &'static str = "get_outcome_snapshot";
    type Answer = WithParts<OutcomeSnapshot>;

    async fn answer(
        self,
        application: &Application,
        caller: &Caller,
    ) -> Result<WithParts<OutcomeSnapshot>, Refusal> {
        require_shown(application, caller, self.0).await?;
        let snapshot = outcome_snapshot::of_order(application.database(), self.0).await?;
        let of = snapshot.ok_or(Refusal::NotFound { what: "outcome snapshot" })?;
        let diagnosed = of.epochs.iter().find_map(|epoch| epoch.diagnosis.as_ref());
        let fitting = match diagnosed {
            Some(diagnosed) => fitting(application, &diagnosed.model).await?,
            None => Vec::new(),
        };
        Ok(WithParts { of, fitting })
    }
}

async fn fitting(application: &Application, model: &Key) -> Result<Vec<FittingPart>, Refusal> {
    Ok(part::fitting(application.database(), model.as_str()).await?)
}
