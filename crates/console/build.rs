//! Takes in what the phone computes with, if `scripts/engine` made it.

use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!("cargo::rerun-if-changed=engine");
    let folder = std::env::var("CARGO_MANIFEST_DIR")? + "/engine";
    let (plain, compressed) = (format!("{folder}/engine.wasm"), format!("{folder}/engine.wasm.br"));
    let is_there = Path::new(&plain).is_file() && Path::new(&compressed).is_file();
    let made = if is_there {
        format!(
            "Some(Engine {{ plain: include_bytes!({plain:?}), compressed: include_bytes!({compressed:?}) }})"
        )
    } else {
        "None".to_owned()
    };
    let out = Path::new(&std::env::var("OUT_DIR")?).join("engine.rs");
    std::fs::write(out, format!("const ENGINE: Option<Engine> = {made};\n"))?;
    Ok(())
}
