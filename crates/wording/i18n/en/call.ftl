call-title = Take a call
