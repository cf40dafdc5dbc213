//! How much worse a machine is diagnosed by a draft from its plate than by the catalogue that somebody wrote for it:
//! the same calls of the simulated company, judged by both.

use std::fmt::Write as _;

use domain::diagnosis::Tables;
use domain::draft::{Draft, Plate};
use domain::equipment::{
    FaultCatalogue, Model, demo_combi, demo_combi_faults, demo_warewasher, demo_warewasher_faults,
};
use domain::procedure::{Procedure, built_in_procedures};
use simulator::cases::physical::PhysicalCases;
use simulator::company::{large_combi, large_combi_faults};

use crate::Arguments;
use crate::judged::Judged;
use crate::labelled::{Labelled, Naming, from_company};
use crate::measures::{Forecasts, Measured, expected_calibration_error, mean};
use crate::workers;

type Failure = Box<dyn std::error::Error>;

/// Of each machine whose catalogue somebody wrote: the report in Markdown.
pub fn report(arguments: &Arguments) -> Result<String, Failure> {
    let mut text = String::from(HEAD);
    for (model, catalogue) in [
        (large_combi(), large_combi_faults()),
        (demo_combi(), demo_combi_faults()),
        (demo_warewasher(), demo_warewasher_faults()),
    ] {
        let rows = compare(arguments, model, catalogue)?;
        text.push_str(&rows);
    }
    Ok(text)
}

const HEAD: &str = "# How much worse a draft is

Made by `scripts/evaluate --drafted`; measured, not promised. Calls of the simulated company with the whole
checklist, as in tier B; each is judged by the catalogue that somebody wrote for the machine and by what
`POST /v1/model-drafts` makes of its plate (`tests/reference/plates.json`) alone. Calls with a fault that one of the
two does not know are counted and left out. Intervals are of pairs, 95 %.
";

fn compare(
    arguments: &Arguments,
    model: &'static Model,
    catalogue: &'static FaultCatalogue,
) -> Result<String, Failure> {
    let draft = draft_of(model)?;
    let procedures: Vec<_> = built_in_procedures().iter().map(|of| of.shown(Some(model))).collect();
    let code = model.key.as_str();
    let written = tables(catalogue, model, &procedures)?;
    let drafted = tables(&draft.faults, &draft.model, &procedures)?;
    let cases = PhysicalCases::new(arguments.seed, code)?;
    let drawing = format!("{code}: drawing cases");
    let cases = workers::draw(&drawing, arguments.cases, cases.map(|case| from_company(&case, &procedures)));
    let drawn = cases.len();
    let is_known = |labelled: &Labelled| {
        let known =
            |of: &FaultCatalogue| labelled.truth.faults.iter().all(|key| of.fault(key.as_str()).is_some());
        known(catalogue) && known(&draft.faults)
    };
    let cases: Vec<Labelled> = cases.into_iter().filter(is_known).collect();
    let judge = |who: &str, tables: &Tables| {
        let naming = Naming::new(tables);
        workers::map(arguments.threads, &format!("{code}: {who}"), &cases, |labelled| {
            Judged::of(tables, &naming, labelled, &labelled.case)
        })
    };
    let (by_written, by_draft) = (judge("written", &written), judge("drafted", &drafted));
    let mut text = format!(
        "\n## {code}\n\n{} faults written, {} drafted. {} of {drawn} calls; seed {}.\n\n| measure | written | drafted | \
         drafted worse by | 95 % interval |\n| --- | --- | --- | --- | --- |\n",
        catalogue.faults.len(),
        draft.faults.faults.len(),
        cases.len(),
        arguments.seed
    );
    let pair = |of: &dyn Fn(&Judged) -> f64| -> [Vec<f64>; 2] {
        [&by_written, &by_draft].map(|judged| judged.iter().map(of).collect())
    };
    let share = |holds: bool| f64::from(u8::from(holds));
    for (measure, [written, drafted], sign) in [
        ("right: the most probable set is the true one", pair(&|of| share(of.right)), -1.0),
        ("the most probable set has all that stands", pair(&|of| share(!of.top_lacks)), -1.0),
        ("a fault that stands is missed", pair(&|of| share(of.missed)), 1.0),
        ("−ln P(true set), nat", pair(&|of| -of.log_truth), 1.0),
        ("needless parts per call", pair(&|of| of.needless_parts as f64), 1.0),
    ] {
        let worse: Vec<f64> = written.iter().zip(&drafted).map(|(w, d)| sign * (d - w)).collect();
        let [written, drafted, worse] = [&written, &drafted, &worse].map(|of| mean(of, arguments.seed));
        let Measured { value, low, high } = worse;
        writeln!(
            text,
            "| {measure} | {:.4} | {:.4} | {value:.4} | {low:.4} to {high:.4} |",
            written.value, drafted.value
        )?;
    }
    let calibration = |judged: &[Judged]| {
        let forecasts: Forecasts = judged.iter().map(|of| vec![(of.top, of.right)]).collect();
        expected_calibration_error(&forecasts, arguments.seed)
    };
    let (written, drafted) = (calibration(&by_written), calibration(&by_draft));
    writeln!(
        text,
        "| calibration error, most probable set | {:.4} | {:.4} ({:.4} to {:.4}) | | |",
        written.value, drafted.value, drafted.low, drafted.high
    )?;
    Ok(text)
}

fn draft_of(model: &Model) -> Result<Draft, Failure> {
    let plates: std::collections::BTreeMap<String, Plate> =
        serde_json::from_str(include_str!("../../../tests/reference/plates.json"))?;
    let plate =
        plates.get(model.key.as_str()).ok_or_else(|| format!("there is no plate of {}", model.key))?;
    Draft::of(plate)
        .map_err(|violations| format!("the plate of {} is at fault: {violations:?}", model.key).into())
}

fn tables(catalogue: &FaultCatalogue, model: &Model, procedures: &[Procedure]) -> Result<Tables, Failure> {
    Tables::compile(catalogue, model, procedures)
        .map_err(|violations| format!("the catalogue of {} is at fault: {violations:?}", model.key).into())
}
