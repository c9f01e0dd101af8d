//! Build script: a rule file that is added, changed or taken away rebuilds the program that embeds it.

fn main() {
    println!("cargo:rerun-if-changed=rules");
}
