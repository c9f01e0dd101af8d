//! Promise: everything that the format can say is read, the schema describes all of it and nothing else, and of wrong
//! texts schema and reader refuse the same ones at the same places.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::LazyLock;

use jsonschema::Validator;
use proptest::prelude::*;
use serde_json::{Value, json};
use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::build::parts::PartKind;
use tractwright::build::schema::build_schema;
use tractwright::text::{Limits, parse};

const DATA: &str = "tests/data";

fn files() -> Files {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let loader =
        DiskLoader::new(root, Path::new(DATA), Limits::default().bytes).expect("the project is there");
    Files::new(Box::new(loader), Limits::default())
}

/// Reads a build; what it has to say against it, as messages with their byte ranges.
fn read(text: &str) -> (Build, Vec<(String, usize, usize)>) {
    let files = files();
    let file = files.add("build.yaml", text);
    let parsed = parse(file, text, files.limits());
    assert_eq!(parsed.faults, [], "{text}");
    let build = Build::read(file, &parsed.root.expect("a tree"), &files);
    let faults =
        build.faults.iter().map(|fault| (fault.message.clone(), fault.span.start, fault.span.end)).collect();
    (build, faults)
}

static VALIDATOR: LazyLock<Validator> =
    LazyLock::new(|| jsonschema::validator_for(&schema()).expect("a valid schema"));

fn every_field() -> (String, Value) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(DATA).join("every-field.yaml");
    let text = std::fs::read_to_string(path).expect("the build is there");
    let value: serde_yaml::Value = serde_yaml::from_str(&text).expect("YAML");
    (text, serde_json::to_value(value).expect("JSON"))
}

fn schema() -> Value {
    serde_json::to_value(build_schema()).expect("JSON")
}

#[test]
fn every_kind_and_field_is_read_without_faults() {
    let (text, value) = every_field();
    let (build, faults) = read(&text);
    assert_eq!(faults, []);
    assert_eq!(build.unread, []);
    let errors: Vec<String> =
        VALIDATOR.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert_eq!(errors, [] as [String; 0]);
    for kind in PartKind::ALL {
        assert!(build.parts.list.iter().any(|part| part.known_kind() == Some(*kind)), "{}", kind.word());
    }
}

#[test]
fn the_build_names_every_property_of_the_schema() {
    let schema = schema();
    let (_, value) = every_field();
    let mut all = BTreeSet::new();
    properties(&schema, &schema, "build", &mut BTreeSet::new(), &mut all);
    let mut named = BTreeSet::new();
    walk(&schema, &schema, &value, "build", &mut named);
    // Known only with a library at hand.
    let left_out = |name: &str| name.contains("(like)");
    // What every part or every part of the path may carry is named once, by the first.
    let shared = |name: &str| {
        let (table, key) = name.rsplit_once('.').unwrap_or(("", name));
        PartKind::from_word(table).is_some()
            && key != "draws-from"
            && named.contains(&format!("air-filter.{key}"))
    };
    let missing: Vec<_> = all.difference(&named).filter(|name| !left_out(name) && !shared(name)).collect();
    assert!(missing.is_empty(), "{missing:#?}");
    assert!(all.len() > 300, "{}", all.len());
}

fn resolve<'a>(root: &'a Value, schema: &'a Value) -> (&'a Value, Option<&'a str>) {
    match schema["$ref"].as_str().and_then(|name| name.strip_prefix("#/$defs/")) {
        Some(name) => (&root["$defs"][name.replace("~1", "/")], Some(name)),
        None => (schema, None),
    }
}

/// A table of one kind of part is named after the kind.
fn name_of(schema: &Value, otherwise: &str) -> String {
    if let Some(kind) = schema["properties"]["kind"]["const"].as_str() {
        return kind.to_owned();
    }
    if schema["properties"].get("like").is_some() { "(like)".to_owned() } else { otherwise.to_owned() }
}

fn alternatives(schema: &Value) -> impl Iterator<Item = &Value> {
    ["anyOf", "oneOf", "allOf"].iter().filter_map(|key| schema[*key].as_array()).flatten()
}

/// Every property that the schema describes, as table and key.
fn properties(
    root: &Value,
    schema: &Value,
    at: &str,
    seen: &mut BTreeSet<String>,
    found: &mut BTreeSet<String>,
) {
    let (schema, name) = resolve(root, schema);
    if !schema.is_object() {
        return;
    }
    if name.is_some_and(|name| !seen.insert(name.to_owned())) {
        return;
    }
    let at = name_of(schema, name.unwrap_or(at));
    for (key, below) in schema["properties"].as_object().into_iter().flatten() {
        let path = format!("{at}.{key}");
        properties(root, below, &path, seen, found);
        found.insert(path);
    }
    for below in alternatives(schema).chain([&schema["items"], &schema["additionalProperties"]]) {
        properties(root, below, &at, seen, found);
    }
}

/// The properties that an instance names.
fn walk(root: &Value, schema: &Value, value: &Value, at: &str, named: &mut BTreeSet<String>) {
    let (schema, name) = resolve(root, schema);
    if !schema.is_object() {
        return;
    }
    let at = name_of(schema, name.unwrap_or(at));
    for below in alternatives(schema) {
        let (told, _) = resolve(root, below);
        let kind = &told["properties"]["kind"]["const"];
        if kind.is_null() || *kind == value["kind"] {
            walk(root, below, value, &at, named);
        }
    }
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                match schema["properties"].get(key) {
                    Some(below) => {
                        let path = format!("{at}.{key}");
                        walk(root, below, value, &path, named);
                        named.insert(path);
                    }
                    None => walk(root, &schema["additionalProperties"], value, &at, named),
                }
            }
        }
        Value::Array(list) => list.iter().for_each(|value| walk(root, &schema["items"], value, &at, named)),
        _ => {}
    }
}

/// Every place of a value, as JSON pointers.
fn places(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                places(value, &format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), found);
            }
        }
        Value::Array(list) => {
            for (i, value) in list.iter().enumerate() {
                places(value, &format!("{at}/{i}"), found);
            }
        }
        _ => {}
    }
}

/// The value as YAML that is JSON, but for the plain word `none`; with the byte range of each place.
fn written(value: &Value, at: &str, out: &mut String, spans: &mut Vec<(String, usize, usize)>) {
    let start = out.len();
    match value {
        Value::String(text) if text == "none" => out.push_str("none"),
        Value::Object(map) => {
            out.push('{');
            for (i, (key, value)) in map.iter().enumerate() {
                out.push_str(if i > 0 { ", " } else { "" });
                out.push_str(&format!("{}: ", json!(key)));
                written(value, &format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), out, spans);
            }
            out.push('}');
        }
        Value::Array(list) => {
            out.push('[');
            for (i, value) in list.iter().enumerate() {
                out.push_str(if i > 0 { ", " } else { "" });
                written(value, &format!("{at}/{i}"), out, spans);
            }
            out.push(']');
        }
        other => out.push_str(&other.to_string()),
    }
    spans.push((at.to_owned(), start, out.len()));
}

/// What to put in the place of something.
fn wrong(kind: usize, old: &Value) -> Option<Value> {
    let text = old.as_str();
    let starts_with_number = text.is_some_and(|text| text.starts_with(|c: char| c.is_ascii_digit()));
    Some(match kind {
        0 => {
            let mut map = old.as_object()?.clone();
            map.insert("zzz".to_owned(), json!("x"));
            Value::Object(map)
        }
        1 if starts_with_number => json!(text?.split(' ').next()?.parse::<f64>().ok()?),
        2 if starts_with_number => json!(format!("{} furlong", text?.split(' ').next()?)),
        3 if starts_with_number => json!(format!("{} mol", text?.split(' ').next()?)),
        4 if !old.is_array() => json!([old]),
        5 if !old.is_object() => json!({ "zzz": old }),
        6 => json!("zzz"),
        7 => Value::Null,
        8 if old.is_object() || old.is_array() => json!("12"),
        9 if starts_with_number => json!(format!("about {}", text?)),
        10 if old.is_object() => json!([]),
        11 if old.is_array() => json!({}),
        12 if text.is_some_and(|text| text.ends_with(" abs")) => json!(text?.trim_end_matches(" abs")),
        13 if old.is_object() => json!({}),
        14 => json!("none"),
        _ => return None,
    })
}

/// The build with nothing in it but the part, or the part of the top level, that a place is in.
fn around(place: &str, base: &Value) -> Value {
    let mut steps = place.split('/').skip(1);
    let top = steps.next().unwrap_or_default();
    let mut value = json!({ "format": 1 });
    value[top] = base[top].clone();
    if let ("parts", Some(name)) = (top, steps.next()) {
        value[top] = json!({ name: base[top][name].clone() });
    }
    value
}

const VARIANTS: usize = 15;

/// What the schema cannot see: names that lead nowhere, files, and what follows from several fields together.
fn only_the_reader_sees(message: &str) -> bool {
    ["no part is called", "no hose is called", "cannot be read", "is not a setting"]
        .iter()
        .any(|words| message.contains(words))
}

fn check(place: &str, kind: usize, base: &Value) -> Result<(), TestCaseError> {
    let mut value = around(place, base);
    let Some(slot) = value.pointer_mut(place) else { return Ok(()) };
    let Some(new) = wrong(kind, slot) else { return Ok(()) };
    if new == *slot || place.is_empty() {
        return Ok(());
    }
    *slot = new;
    let (mut text, mut spans) = (String::new(), Vec::new());
    written(&value, "", &mut text, &mut spans);
    let (_, faults) = read(&text);
    let (_, start, end) = spans.iter().find(|(at, ..)| at == place).expect("the place is written");
    let errors: Vec<String> =
        VALIDATOR.iter_errors(&value).map(|error| error.instance_path().to_string()).collect();
    let told: Vec<_> = faults.iter().filter(|(message, ..)| !only_the_reader_sees(message)).collect();
    let what = format!(
        "{place} = {}: schema at {errors:?}, reader {faults:?}",
        value.pointer(place).unwrap_or(&Value::Null)
    );
    prop_assert_eq!(errors.is_empty(), told.is_empty(), "{}", what);
    for error in &errors {
        prop_assert!(place.starts_with(error.as_str()) || error.starts_with(place), "{}", what);
    }
    // The reader marks the value, something in it, or the key it stands behind.
    let key = start.saturating_sub(place.rsplit('/').next().unwrap_or_default().len() + 4);
    // Two fields that exclude each other are marked together.
    for (_, from, to) in told.into_iter().filter(|(message, ..)| !message.contains("not both")) {
        prop_assert!(key <= *from && *to <= *end, "{}", what);
    }
    Ok(())
}

/// Each place of the build with each kind of slip: all of them, not a sample.
#[test]
fn schema_and_reader_refuse_the_same_slips_at_the_same_places() {
    let (_, base) = every_field();
    let mut all = Vec::new();
    places(&base, "", &mut all);
    let mut wrong = Vec::new();
    for place in &all {
        // What a setting or a limit may be is known only by its name.
        if place.starts_with("/settings/") || place.starts_with("/limits/") {
            continue;
        }
        for kind in 0..VARIANTS {
            if let Err(error) = check(place, kind, &base) {
                wrong.push(error.to_string());
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {} places: {:#?}",
        wrong.len(),
        all.len(),
        wrong.iter().take(40).collect::<Vec<_>>()
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Numbers in units of the table, written in many ways, are read where the schema takes them.
    #[test]
    fn schema_and_reader_take_the_same_quantities(
        number in "[-+]?[0-9]{1,3}(\\.[0-9]{0,2})?(e-?[0-9])?",
        space in prop::sample::select(vec!["", " ", "  "]),
        unit in prop::sample::select(vec!["mm", "m", "in", "kPa", "kPa abs", "bar gauge", "psig", "kPa(a)", "°C", "degC", "K", "cm²", "N s/m", "N·s/m", "%", "", "rpm", "kg", "abs", "kPaabs", "mm mm", "kPa gage", "bar difference"]),
        tolerance in prop::sample::select(vec!["", " ± 1 mm", " ± 5 %", " +/- 2 mm", " ± mm", " ± 3"]),
        place in prop::sample::select(vec!["/parts/cold-pipe/bore", "/parts/boost-sensor/full-scale", "/parts/filter/temperature-rating", "/parts/relief/areas/inlet", "/parts/relief/damping", "/engine/rev-limit", "/control/boost-cut", "/engine/idle/manifold-pressure"]),
    ) {
        let (_, base) = every_field();
        let mut value = around(place, &base);
        *value.pointer_mut(place).expect("a place") = json!(format!("{number}{space}{unit}{tolerance}"));
        let (mut text, mut spans) = (String::new(), Vec::new());
        written(&value, "", &mut text, &mut spans);
        let (_, faults) = read(&text);
        // A value that cannot be (a negative bore, less than vacuum) is well written all the same.
        let well = |message: &str| {
            ["cannot be", "less than", "below absolute", "a share of a temperature", "does not lie below"].iter().any(|words| message.contains(words))
        };
        if faults.iter().any(|(message, ..)| well(message)) {
            return Ok(());
        }
        let badly_written = faults.iter().any(|(message, ..)| !only_the_reader_sees(message));
        let errors: Vec<String> = VALIDATOR.iter_errors(&value).map(|e| e.instance_path().to_string()).collect();
        prop_assert_eq!(errors.is_empty(), !badly_written, "{}: {:?} {:?}", value.pointer(place).unwrap_or(&Value::Null), errors, faults);
    }
}
