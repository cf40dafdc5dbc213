//! The machines behind the cases, to be read again after a repair.

use std::collections::BTreeSet;

use domain::procedure::Procedure;
use domain::text::Key;
use simulator::cases::catalogue::CatalogueCases;

use crate::labelled::{Labelled, Truth, from_catalogue, gathered};

pub enum World<'a> {
    Catalogue(Box<CatalogueCases<'a>>),
    Company(&'a [Procedure]),
}

impl World<'_> {
    /// The case as its whole checklist reads once these faults are mended; the `time`th time.
    pub fn again(&self, labelled: &Labelled, mended: &BTreeSet<Key>, time: u64) -> Labelled {
        let faults = labelled.truth.faults.difference(mended).cloned().collect();
        let truth = Truth { faults, ..labelled.truth.clone() };
        match self {
            Self::Catalogue(cases) => match &labelled.drawn {
                Some(drawn) => Labelled { truth, ..from_catalogue(&cases.again(drawn, mended, time)) },
                None => labelled.clone(),
            },
            Self::Company(procedures) => match &labelled.company {
                Some((intake, behind)) => {
                    let case = gathered(intake, &behind.again(mended, time), procedures);
                    Labelled { case, truth, ..labelled.clone() }
                }
                None => labelled.clone(),
            },
        }
    }
}
