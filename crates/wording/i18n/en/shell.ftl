skip = To the page itself
pages = Pages
find = Find
other-pages = Office
sign-out = Sign out

live-changed = Something changed here.
live-show = Show it
live-fresh = Changed just now: #
live-away = The office is not reached. What you see stood at

sign-in-title = Sign in
sign-in-name = The name you sign in by
sign-in-password = Password
sign-in-do = Sign in
sign-in-wrong = The name or the password is not right. Look whether capital letters are locked, or ask your administrator for a new token.
sign-in-too-often = Too many tries. Wait a minute, then try again.
sign-in-session-ended = Your session had ended. Sign in again: what you typed is kept.
sign-in-first-time = The first time here, or the password is lost? Set one with a token
sign-in-no-pages = You are signed in, but no page is open to you: your session lets you do too little. Sign in as somebody else, or sign out.
guests-title = The demo company
guests-what = Everything here is invented. Choose who you are; no password is asked for.
guest-technician = reads and mends machines, on a phone
guest-dispatcher = takes calls, sends people
guest-manager = sees everything, lets things pass
guest-administrator = may do anything
guest-integration = a program, not a person

first-sign-in-title = Set your password
first-sign-in-what = Your administrator gives you a token (on the server: ovenwright token). Choose a name and a password; all your other sessions end.
first-sign-in-token = Token
first-sign-in-name = The name you want to sign in by
first-sign-in-password = New password, at least ten characters
first-sign-in-do = Set it and sign in
first-sign-in-back = Back to sign-in
first-sign-in-no-token = This token is not good for that: it is unknown, expired or revoked, or it lets do less than you may. Ask your administrator for one with all that your role can use.

resume-title = You are signed in again
resume-what = What you had typed is here, not sent yet.
resume-do = Send it now

fault-back = To the first page
fault-not-found = Nothing is here
fault-not-found-what = No page lies at this address, or you may not see it. Search finds kitchens, machines, orders and people.
fault-forged = Not done
fault-forged-what = The form was not sent from a page of this service, so nothing was done. If you sent it yourself, open the page again and send it from there.
fault-not-a-form = Not understood
fault-not-a-form-what = What was sent is not a form of these pages; nothing was done.
fault-too-long = Too long
fault-too-long-what = What was sent is longer than any form of these pages; nothing was done. Shorten it.
fault-not-yours = Not for your role
fault-not-yours-what = Your role may not do this or see this. Somebody of the office or your administrator can.
fault-away = Not reached
fault-away-what = The database is not reached now, or everything is busy. What you see elsewhere stands; try again in a moment.
fault-internal = Something broke here
fault-internal-what = That was our fault, not yours. Nothing half done is kept. The log says more.
fault-refused = Not done
fault-refused-what = It was not done, because:
refused-stale = Somebody changed this while you looked at it. What stands now is shown; look, then do it again if it is still right.

span-minutes = { $count } min
span-hours = { $count } h
span-days = { $count } d
machine-not-known = machine not known yet
