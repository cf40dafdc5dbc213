//! What a page calls. One thread, one buffer: the question lies in it, then the answer.

use std::cell::RefCell;

use crate::question::Engine;

thread_local! {
    static STATE: RefCell<(Engine, Vec<u8>)> = RefCell::default();
}

/// Makes room for a question of `length` bytes, and says where.
#[expect(unsafe_code, reason = "a name that a page can call")]
#[unsafe(no_mangle)]
pub extern "C" fn room(length: usize) -> *mut u8 {
    STATE.with_borrow_mut(|(_, buffer)| {
        buffer.clear();
        buffer.resize(length, 0);
        buffer.as_mut_ptr()
    })
}

/// Answers the question that lies in the room, and says how many bytes the answer has.
#[expect(unsafe_code, reason = "a name that a page can call")]
#[unsafe(no_mangle)]
pub extern "C" fn ask() -> usize {
    STATE.with_borrow_mut(|(engine, buffer)| {
        *buffer = engine.answer(buffer);
        buffer.len()
    })
}

/// Where the answer lies, until room is made for another question.
#[expect(unsafe_code, reason = "a name that a page can call")]
#[unsafe(no_mangle)]
pub extern "C" fn place() -> *const u8 {
    STATE.with_borrow(|(_, buffer)| buffer.as_ptr())
}
