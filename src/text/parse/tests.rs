use super::*;
#[test]
fn explore() {
    for t in ["a: [1, 2\nb: 3\n", "a: {x: 1\n", "a: b: c\n", "a:\n\tb: 1\n", "\ta: 1\n", "a: 'x\nb: 1\n", "a: \"x\n", "a: 1\n b: 2\n", "a:\n  b: 1\n c: 2\n","a: 1\n- b\n", "- a\nb: 1\n", "a: [1, 2}\n", "a: ]\n", "a\nb: 1\n", "a: 1\nb\n", "a: 1\nb\nc: 2\n", "a: @x\n", "a: `x\n", "%YAML 1.1\n---\na: 1\n", "a: 1\n--- \nb: 2\n", "a: 1\n...\nb: 2\n", "a: \"\\q\"\n", "a: {b}\n", "a: {b: 1 c: 2}\n", "a: [b c: 2, d\n  e]\n", "a: &\n", "a: *x\n", "? [a]\n: b\n", "*a : b\n", "a: !!int 3\n", "!x\n", "a: |\n text\n\n\n# c\nb: 1\n", "a: >\n x\n  y\n b: 1\n", "a: 1 # c\nb:   \n\n# x\nc: 2", "a: -\n", "- \n- 1\n", "a: 'x' y\n", "a: b #c\n d\n", "a: 5\" x\n", "a: %x\n", ": b\n", "a: {: b}\n", "a: {b:1}\n", "a: [,]\n", "<<: {a: 1}\n", "a: &a [*a]\n", "&a b: *a\n", "a: 1\na: 2\n", "\u{feff}a: 1\n", "", "# c\n", "---\n", "~\n", "a: 1,5 mm\nb: c]\n", "a:1\nb: 2\n", "a:\n- b\n-c\n", "a: b\n  c: d\n", "a:  'it''s'\nb: {c: 1,\n", "\"abc: 1\nb: 2\n"] {
        let p = parse(FileId(0), t, &Limits::default());
        eprintln!("=== {t:?}");
        for f in &p.faults { eprintln!("   {} {:?} `{:?}`", f.message, (f.span.start, f.span.end), f.span.slice(t)); }
        fn show(n: &Node, t: &str) -> String { match n.as_list() { Some(l) => format!("[{}]@{:?}", l.iter().map(|x| show(x,t)).collect::<Vec<_>>().join(","), n.span.slice(t).unwrap()), None => match n.as_map() { Some(m) => format!("{{{}}}@{:?}", m.iter().map(|e| format!("{}@{:?}:{}", e.key.text, e.key.span.slice(t).unwrap(), show(&e.value,t))).collect::<Vec<_>>().join(","), n.span.slice(t).unwrap()), None => format!("{:?}@{:?}", n.as_scalar().unwrap().text, n.span.slice(t).unwrap())}}}
        if let Some(r) = &p.root { eprintln!("   {}", show(r, t)); } else { eprintln!("  none"); }
    }
}
