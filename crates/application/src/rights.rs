//! Who may do what: the one table that the HTTP guard, the OpenAPI document and the use cases read.

use domain::role::Role::{self, Administrator, Dispatcher, Integration, Manager, Technician};
use domain::role::Scope;

/// What one operation asks of its caller.
#[derive(Debug, Clone, Copy)]
pub struct Right {
    pub operation: &'static str,
    pub scope: Scope,
    pub roles: &'static [Role],
}

/// The row of an operation (= its handler's name, its operationId, its use case's name), or of what a page alone asks or does.
pub fn of(operation: &str) -> Option<&'static Right> {
    RIGHTS.iter().chain(PAGE_RIGHTS).find(|right| right.operation == operation)
}

const EVERYBODY: &[Role] = &[Technician, Dispatcher, Manager, Administrator, Integration];
pub(crate) const OFFICE: &[Role] = &[Dispatcher, Manager, Administrator, Integration];
pub(crate) const MANAGEMENT: &[Role] = &[Manager, Administrator];
const ADMINISTRATION: &[Role] = &[Administrator];

const fn read(operation: &'static str, roles: &'static [Role]) -> Right {
    Right { operation, scope: Scope::Read, roles }
}

const fn write(operation: &'static str, roles: &'static [Role]) -> Right {
    Right { operation, scope: Scope::Write, roles }
}

const fn administer(operation: &'static str) -> Right {
    Right { operation, scope: Scope::Administer, roles: ADMINISTRATION }
}

const PEOPLE: &[Role] = &[Technician, Dispatcher, Manager, Administrator];
const PEOPLE_OF_OFFICE: &[Role] = &[Dispatcher, Manager, Administrator];

/// What the pages ask and do that the interface has no operation for.
pub const PAGE_RIGHTS: &[Right] = &[
    write("begin_session", PEOPLE),
    read("end_session", EVERYBODY),
    write("offer_pairing", PEOPLE),
    write("pair_phone", PEOPLE),
    write("set_sign_in", PEOPLE),
    administer("open_sign_in"),
    read("see_own_sign_in", PEOPLE),
    read("see_today", PEOPLE_OF_OFFICE),
    read("see_order", PEOPLE),
    read("see_day", PEOPLE),
    read("see_visit", PEOPLE),
    read("see_kitchen", PEOPLE_OF_OFFICE),
    read("see_machine", PEOPLE_OF_OFFICE),
    read("find_anything", PEOPLE_OF_OFFICE),
    read("prepare_call", PEOPLE_OF_OFFICE),
    read("see_catalogue", PEOPLE_OF_OFFICE),
    read("see_people", PEOPLE_OF_OFFICE),
    read("see_house_rules", PEOPLE_OF_OFFICE),
    read("see_parts_used", PEOPLE_OF_OFFICE),
    read("see_happenings", MANAGEMENT),
];

/// What the operations of the interface ask.
pub const RIGHTS: &[Right] = &[
    read("get_me", EVERYBODY),
    read("get_metrics", &[Administrator, Integration]),
    read("list_changes", EVERYBODY),
    read("follow_changes", EVERYBODY),
    read("list_customers", OFFICE),
    read("get_customer", EVERYBODY),
    write("create_customer", OFFICE),
    write("update_customer", OFFICE),
    read("list_branches", EVERYBODY),
    read("get_branch", EVERYBODY),
    write("create_branch", MANAGEMENT),
    write("update_branch", MANAGEMENT),
    read("list_sites", EVERYBODY),
    read("get_site", EVERYBODY),
    write("create_site", OFFICE),
    write("update_site", OFFICE),
    read("get_standing_facts", EVERYBODY),
    write("update_standing_facts", EVERYBODY),
    read("get_site_water", EVERYBODY),
    write("create_site_water", EVERYBODY),
    read("list_appliances", EVERYBODY),
    read("list_site_appliances", EVERYBODY),
    read("get_appliance", EVERYBODY),
    write("create_appliance", EVERYBODY),
    write("update_appliance", EVERYBODY),
    write("act_on_appliance", &[Technician, Manager, Administrator]),
    read("list_stops", EVERYBODY),
    write("create_stop", EVERYBODY),
    read("list_fitted_parts", EVERYBODY),
    write("create_fitted_part", EVERYBODY),
    read("list_appliance_positions", EVERYBODY),
    read("list_models", EVERYBODY),
    read("get_model", EVERYBODY),
    read("get_model_version", EVERYBODY),
    write("create_model", MANAGEMENT),
    read("draft_model", MANAGEMENT),
    read("list_procedures", EVERYBODY),
    read("get_procedure", EVERYBODY),
    read("get_procedure_version", EVERYBODY),
    write("create_procedure", MANAGEMENT),
    read("list_faults", EVERYBODY),
    read("get_fault", EVERYBODY),
    read("get_fault_version", EVERYBODY),
    read("get_fault_catalogue", EVERYBODY),
    read("get_fault_catalogue_version", EVERYBODY),
    write("create_fault_catalogue", MANAGEMENT),
    read("list_terms", EVERYBODY),
    write("create_term", MANAGEMENT),
    write("create_finding", EVERYBODY),
    read("list_findings", EVERYBODY),
    write("create_action_taken", EVERYBODY),
    read("list_actions_taken", EVERYBODY),
    write("create_part_line", EVERYBODY),
    read("list_part_lines", EVERYBODY),
    read("get_part_line", EVERYBODY),
    write("update_part_line", EVERYBODY),
    write("act_on_part_line", EVERYBODY),
    write("create_quote", OFFICE),
    read("list_quotes", EVERYBODY),
    write("create_approval", EVERYBODY),
    read("list_approvals", EVERYBODY),
    write("create_call", OFFICE),
    write("create_call_answer", EVERYBODY),
    read("get_call", EVERYBODY),
    read("list_calls", OFFICE),
    write("create_work_order", OFFICE),
    read("get_work_order", EVERYBODY),
    read("list_work_orders", EVERYBODY),
    write("update_work_order", EVERYBODY),
    write("create_machine_correction", EVERYBODY),
    read("list_work_order_actions", EVERYBODY),
    write("act_on_work_order", EVERYBODY),
    write("create_visit", OFFICE),
    read("get_visit", EVERYBODY),
    read("list_work_order_visits", EVERYBODY),
    write("update_visit", OFFICE),
    write("act_on_visit", EVERYBODY),
    write("create_waiting", EVERYBODY),
    read("list_work_order_waiting", EVERYBODY),
    write("act_on_waiting", EVERYBODY),
    write("create_interlock_defeat", EVERYBODY),
    read("list_work_order_interlock_defeats", EVERYBODY),
    write("act_on_interlock_defeat", EVERYBODY),
    write("create_note", EVERYBODY),
    read("list_work_order_notes", EVERYBODY),
    write("create_waiver", MANAGEMENT),
    read("list_work_order_waivers", EVERYBODY),
    write("create_test_runs", EVERYBODY),
    read("get_test_run", EVERYBODY),
    read("get_test_run_verdicts", EVERYBODY),
    read("list_work_order_test_runs", EVERYBODY),
    read("get_work_order_verdicts", EVERYBODY),
    read("get_work_order_diagnosis", EVERYBODY),
    read("get_outcome_snapshot", EVERYBODY),
    read("diagnose", EVERYBODY),
    read("list_contacts", OFFICE),
    read("get_contact", EVERYBODY),
    write("create_contact", OFFICE),
    write("update_contact", OFFICE),
    write("erase_contact", &[Manager, Administrator]),
    read("list_parts", EVERYBODY),
    read("get_part", EVERYBODY),
    write("create_part", OFFICE),
    write("update_part", OFFICE),
    read("search", OFFICE),
    read("get_site_recurring_faults", EVERYBODY),
    read("get_appliance_history", EVERYBODY),
    read("get_parts_usage", OFFICE),
    read("get_early_warnings", OFFICE),
    read("get_part_life", OFFICE),
    read("get_repeats", OFFICE),
    read("get_site_repeats", OFFICE),
    read("get_measures", OFFICE),
    read("get_appliance_costs", OFFICE),
    write("create_knowledge_version", MANAGEMENT),
    read("list_knowledge_versions", OFFICE),
    read("get_knowledge_version", OFFICE),
    read("get_learned_faults", OFFICE),
    read("list_known_good", EVERYBODY),
    read("get_appliance_drift", EVERYBODY),
    write("create_known_good_removal", MANAGEMENT),
    read("list_known_good_removals", OFFICE),
    read("get_known_good_removal", OFFICE),
    read("list_people", OFFICE),
    read("get_person", OFFICE),
    administer("create_person"),
    administer("update_person"),
    administer("list_tokens"),
    administer("create_token"),
    administer("revoke_token"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_operation_has_one_row() {
        let mut operations: Vec<_> = RIGHTS.iter().chain(PAGE_RIGHTS).map(|right| right.operation).collect();
        operations.sort_unstable();
        let count = operations.len();
        operations.dedup();
        assert_eq!(operations.len(), count);
    }

    /// The names that stand in the sources as a use case's or a question's.
    fn named_in(folder: &std::path::Path, names: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                named_in(&path, names);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let source = std::fs::read_to_string(&path).unwrap();
                let marked = source
                    .lines()
                    .filter_map(|line| line.trim().strip_prefix("const NAME: &'static str = \""));
                names.extend(marked.filter_map(|rest| rest.strip_suffix("\";")).map(str::to_owned));
            }
        }
    }

    #[test]
    fn every_right_of_both_doors_is_asked_for_by_a_use_case_or_question() {
        let mut names = Vec::new();
        named_in(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut names);
        names.sort_unstable();
        // One question may be asked by id and by number.
        names.dedup();
        let rights = RIGHTS.iter().chain(PAGE_RIGHTS).map(|right| right.operation);
        // What the process counts of itself is no question about the company.
        let mut rights: Vec<_> = rights.filter(|operation| *operation != "get_metrics").collect();
        rights.sort_unstable();
        assert_eq!(names, rights);
    }
}
