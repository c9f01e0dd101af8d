//! The entries of the document, as they are written; their comments are its schema's manual.

use schemars::JsonSchema;
use serde::Serialize;

/// All that was reviewed in one run.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Document {
    /// Name and version of the format.
    pub format: &'static str,
    /// Version of the program.
    pub program: &'static str,
    /// One entry a build, in the order of their paths.
    pub builds: Vec<BuildEntry>,
    /// YAML files that were found and are no builds.
    pub other_files: usize,
    /// House files in which something is wrong.
    pub houses: Vec<HouseEntry>,
}

#[derive(Serialize, JsonSchema)]
pub struct HouseEntry {
    /// Path of the house file.
    pub file: String,
    /// What is wrong with it, or with the rules it brings.
    pub faults: Vec<FaultEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct BuildEntry {
    /// Path of the file.
    pub file: String,
    /// Title of the build, where it has one.
    pub title: Option<String>,
    /// What is wrong with the text itself.
    pub faults: Vec<FaultEntry>,
    /// All results.
    pub results: Vec<ResultEntry>,
    /// The count.
    pub tally: TallyEntry,
    /// What would settle the open results, the most useful first.
    pub asking: Vec<AskedEntry>,
    /// Rules that found nothing to look at.
    pub unasked: Vec<UnaskedEntry>,
    /// Rules that are switched off or left out.
    pub switched_off: Vec<SwitchedOffEntry>,
    /// What is no rule's business: loosened limits with what they hide, stale accepted findings, and the like.
    pub notices: Vec<NoticeEntry>,
    /// Places of the text that this version does not read yet.
    pub unread: Vec<String>,
    /// Derivations that were asked for.
    pub traces: Vec<TraceEntry>,
}

#[derive(Serialize, JsonSchema)]
pub struct SwitchedOffEntry {
    /// The rule.
    pub rule: String,
    /// The house's reason; absent where the caller left the rule out.
    pub because: Option<String>,
}

/// What is no rule's business.
#[derive(Serialize, JsonSchema)]
pub struct NoticeEntry {
    /// Its kind, a word.
    pub kind: &'static str,
    /// Its level, always note.
    pub level: &'static str,
    /// What there is to say.
    pub message: String,
    /// Where, in the build or in the house file.
    pub place: PlaceEntry,
    /// Results that would be there but for this.
    pub hides: Vec<HiddenEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct HiddenEntry {
    /// The rule.
    pub rule: String,
    /// Where its subject stands.
    pub subject_route: String,
    /// What the result would be: fail, review or open; of a lowered level, what it is.
    pub kind: &'static str,
}

/// That a finding is accepted.
#[derive(Serialize, JsonSchema)]
pub struct AcceptedEntry {
    /// Why.
    pub because: String,
    /// By whom.
    pub by: String,
    /// The last day on which that holds.
    pub until: Option<String>,
}

/// One step of a derivation.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct TraceEntry {
    /// The quantity.
    pub fact: String,
    /// Whose it is.
    pub subject: String,
    /// Its value; absent for a solve that other steps look at.
    pub value: Option<ValueEntry>,
    /// How it is computed.
    pub how: &'static str,
    /// Where that comes from.
    pub source: &'static str,
    /// Fields that were read and are given.
    pub fields: Vec<FieldEntry>,
    /// Settings that were read.
    pub settings: Vec<SettingEntry>,
    /// Defaults that stood in.
    pub defaults: Vec<DefaultEntry>,
    /// Fields that would make it exact.
    pub lacks: Vec<String>,
    /// Whether it is shown in full further up, and here only named.
    pub shown_above: bool,
    /// What it was computed from.
    pub below: Vec<TraceEntry>,
}

#[derive(Serialize, JsonSchema)]
pub struct FieldEntry {
    /// Its route.
    pub route: String,
    /// As written.
    pub written: String,
    /// Where.
    pub place: PlaceEntry,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SettingEntry {
    /// Its name.
    pub name: &'static str,
    /// Its value.
    pub value: NumberEntry,
    /// Where its default comes from.
    pub source: &'static str,
    /// Which file decided it: rule (here the program's own default), house or build.
    pub decided_by: &'static str,
    /// Why it was changed.
    pub because: Option<String>,
}

/// A place in a text.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct PlaceEntry {
    /// The file.
    pub file: String,
    /// First line, from 1.
    pub line: usize,
    /// First column, from 1, in characters.
    pub column: usize,
    /// Last line.
    pub end_line: usize,
    /// Column behind the last character.
    pub end_column: usize,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct FaultEntry {
    /// Its kind, a word.
    pub kind: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
    /// Where.
    pub place: PlaceEntry,
    /// Further places, each with what it has to do with it.
    pub also: Vec<AlsoEntry>,
}

#[derive(Serialize, JsonSchema)]
pub struct AlsoEntry {
    /// Where.
    pub place: PlaceEntry,
    /// What it has to do with it.
    pub says: String,
}

/// A number with its unit.
#[derive(Serialize, JsonSchema)]
pub struct NumberEntry {
    /// The value in that unit; absent where it has no bound.
    pub value: Option<f64>,
    /// The SI unit; `1` for a pure number.
    pub unit: String,
}

/// A value as far as it is known.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ValueEntry {
    /// A number.
    Number(NumberEntry),
    /// Yes or no.
    Bool(bool),
    /// A word.
    Word(String),
    /// A number between two bounds.
    Between(NumberEntry, NumberEntry),
    /// Not known.
    Unknown,
    /// Does not apply, with the reason.
    NotApplicable(String),
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ResultEntry {
    /// The rule's id.
    pub rule: String,
    /// fail, review, pass, open, notApplicable or silenced.
    pub kind: &'static str,
    /// error, warning or note of a finding; none of anything else.
    pub level: &'static str,
    /// Which file decided the rule's level: rule or house.
    pub level_decided_by: &'static str,
    /// The level in the rule's own file.
    pub own_level: &'static str,
    /// That the finding is accepted.
    pub accepted: Option<AcceptedEntry>,
    /// What the rule is about.
    pub title: String,
    /// What it was asked of: kind of subject.
    pub subject_kind: &'static str,
    /// Name of the subject.
    pub subject: String,
    /// Where the subject stands.
    pub subject_route: String,
    /// The place that the result is filed under.
    pub place: String,
    /// Marked places, the main one first.
    pub marks: Vec<MarkEntry>,
    /// The comparisons that were made.
    pub comparisons: Vec<ComparisonEntry>,
    /// The circumstances of the worst case.
    pub worst_at: Option<AtEntry>,
    /// Of a finding at another site: whether it passes at home.
    pub passes_at_home: Option<bool>,
    /// Whether a rule of thumb spoke because the computation could not.
    pub rule_of_thumb: bool,
    /// Whether it lies within the solver's own error of the limit.
    pub at_limit: bool,
    /// The limits that were read.
    pub limits: Vec<LimitEntry>,
    /// Settings on the way to it that house or build have changed.
    pub settings: Vec<SettingEntry>,
    /// Defaults that stood in for absent fields.
    pub defaults: Vec<DefaultEntry>,
    /// What is missing, of an open result.
    pub missing: Option<MissingEntry>,
    /// Why the question does not arise.
    pub because: Option<String>,
    /// The rule that silences it.
    pub silenced_by: Option<String>,
    /// Cures that were found.
    pub cures: Vec<CureEntry>,
    /// Whether no cure was searched, as there are too many findings.
    pub cure_left_out: bool,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct MarkEntry {
    /// The route that is meant.
    pub route: String,
    /// main or also.
    pub role: &'static str,
    /// Whether that route is written; else the nearest thing above it is marked.
    pub given: bool,
    /// What it says.
    pub says: String,
    /// Where it is.
    pub place: PlaceEntry,
    /// Where it is defined, when an alias brought it.
    pub defined_at: Option<PlaceEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ComparisonEntry {
    /// The left side as the rule writes it.
    pub left: String,
    /// What it came to.
    pub left_value: ValueEntry,
    /// How they are compared.
    pub relation: String,
    /// The right side.
    pub right: String,
    /// What it came to.
    pub right_value: ValueEntry,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct AtEntry {
    /// Name of the site.
    pub site: String,
    /// Whether it is the build's own.
    pub home: bool,
    /// Engine speed.
    pub engine_speed: Option<NumberEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct LimitEntry {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: ValueEntry,
    /// The key that picked it.
    pub key: Option<String>,
    /// The rule's own value, where the house or the build has put another in its place.
    pub instead_of: Option<ValueEntry>,
    /// Where the rule's own value comes from.
    pub source: String,
    /// Which file decided the value: rule, house or build.
    pub decided_by: &'static str,
    /// Why it was changed.
    pub because: Option<String>,
}

#[derive(Serialize, JsonSchema)]
pub struct DefaultEntry {
    /// The absent field.
    pub field: String,
    /// What stood in.
    pub says: String,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct MissingEntry {
    /// Fields that would decide it.
    pub fields: Vec<String>,
    /// Facts that this version does not compute yet.
    pub not_built: Vec<&'static str>,
    /// What stands in the way otherwise.
    pub hindrances: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct CureEntry {
    /// The field, or the table.
    pub field: String,
    /// What is proposed, as it would be written; of a table the most that its entries may be.
    pub to: String,
    /// That value, if it is a number.
    pub value: Option<NumberEntry>,
    /// The value now; of a table the largest of the entries that are cut.
    pub now: Option<NumberEntry>,
    /// All ranges that pass within the usual range, of a number.
    pub passing: Vec<[NumberEntry; 2]>,
    /// Each field that is changed, with the text that is put there.
    pub changes: Vec<ChangeEntry>,
    /// In words.
    pub says: String,
    /// Whether the changed build, reviewed again, passes.
    pub passes: bool,
    /// What else changes.
    pub changes_too: Vec<UpsetEntry>,
}

#[derive(Serialize, JsonSchema)]
pub struct ChangeEntry {
    /// The field's route.
    pub field: String,
    /// What is put there.
    pub to: String,
}

#[derive(Serialize, JsonSchema)]
pub struct UpsetEntry {
    /// The rule.
    pub rule: String,
    /// The subject's route.
    pub subject: String,
    /// What it came to before.
    pub before: Option<&'static str>,
    /// What it comes to then.
    pub after: Option<&'static str>,
    /// Whether that is for the worse.
    pub worse: bool,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct TallyEntry {
    /// Rules times subjects; the sum of the six below.
    pub results: usize,
    /// Findings, the accepted ones among them.
    pub fail: usize,
    /// Accepted findings.
    pub accepted: usize,
    /// For a person to judge, what a person has judged and accepted among it.
    pub review: usize,
    /// Of that, what is accepted.
    pub judged: usize,
    /// Checked and right.
    pub pass: usize,
    /// Not decided.
    pub open: usize,
    /// The question does not arise.
    pub not_applicable: usize,
    /// Silenced by a graver finding.
    pub silenced: usize,
    /// Rules without anything to look at; not in the sum.
    pub rules_without_subject: usize,
    /// Rules that are switched off or left out; not in the sum.
    pub rules_switched_off: usize,
}

#[derive(Serialize, JsonSchema)]
pub struct AskedEntry {
    /// The field.
    pub field: String,
    /// Results that it settles by itself.
    pub settles: usize,
    /// Results that it helps to settle.
    pub helps: usize,
    /// The rules that wait for it.
    pub rules: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct UnaskedEntry {
    /// The rule.
    pub rule: String,
    /// What it would be asked of.
    pub for_each: &'static str,
}
