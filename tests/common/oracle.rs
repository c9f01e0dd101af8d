//! Runs the independent programs of `oracles`.

use std::process::Command;

use serde_json::Value;

/// What a script of `tests/oracles` prints, which imports these packages (names with spaces between); `None`, with a reason told, where its packages are not installed, unless
/// TRACTWRIGHT_ORACLES says `required`, as `.ci/run` does.
pub fn answer(packages: &str, script: &str, options: &[&str]) -> Option<Value> {
    let python = std::env::var("TRACTWRIGHT_ORACLE_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let required = std::env::var("TRACTWRIGHT_ORACLES").is_ok_and(|word| word == "required");
    // To find them is enough: to import them takes longer than some of the scripts.
    let find = format!(
        "import importlib.util as u, sys; sys.exit(any(u.find_spec(name) is None for name in '{packages}'.split()))"
    );
    let has = Command::new(&python).args(["-c", &find]).output();
    if !has.is_ok_and(|output| output.status.success()) {
        println!("skipped: {python} has not the packages of tests/oracles/requirements.txt");
        assert!(!required, "the oracles are required here");
        return None;
    }
    let output = Command::new(&python)
        .arg(format!("tests/oracles/{script}"))
        .args(options)
        // Matrices of sixty rows gain nothing from threads, and other tests run beside.
        .envs([("OMP_NUM_THREADS", "1"), ("OPENBLAS_NUM_THREADS", "1")])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("python runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    Some(serde_json::from_slice(&output.stdout).expect("JSON"))
}
