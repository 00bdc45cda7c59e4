"""Who reaches what: the answer of every page to each person, for each thing it may be asked for.

Amelia is the chief instructor, Bert the instructor of Dora and Hugo, Cleo another instructor; Dora, Emil and Hugo are
students, Hugo’s training has ended; Frida keeps the records; nobody is not logged in. A page is named with the kind
of object in its address (tests/page_targets.py); below it stands for each method, and each object, the status for each
person. `422-` is refused whatever is sent; a plain 422 comes of the empty form; a dot is not asked: another says the
same. A method without a line is answered 405.
"""

from typing import NamedTuple

from tests.cast import SECRET

PEOPLE = ("amelia", "bert", "cleo", "dora", "emil", "hugo", "frida", "nobody")

MATRIX_TEXT = """
                   amelia bert   cleo   dora   emil   hugo   frida  nobody
school:login
    GET            302    302    302    302    302    302    302    200
    POST           302    302    302    302    302    302    302    200
school:logout
    POST           302    302    302    302    302    302    302    302
school:display
    POST           302    302    302    302    302    302    302    302
school:manifest
    GET            200    200    200    200    200    200    200    200
school:key_to_marks
    GET            200    200    200    200    200    200    200    200
school:invitation of link
    GET absent     410    410    410    410    410    410    410    410
    POST absent    410    410    410    410    410    410    410    410
school:waiting_change of link
    GET absent     410    410    410    410    410    410    410    410
    POST absent    410    410    410    410    410    410    410    410
school:account
    GET            200    200    200    200    200    200    200    302
school:stop_own_change
    POST           302    302    302    302    302    302    302    302
school:end_session of row
    POST absent    302    302    302    302    302    302    302    302
school:end_other_sessions
    POST           302    302    302    302    302    302    302    302
school:people
    GET            403    403    403    403    403    403    200    302
school:add_person
    GET            403    403    403    403    403    403    200    302
    POST           403    403    403    403    403    403    200    302
school:person of student
    GET dora       403    403    403    403    403    403    200    302
    GET hugo       403    403    403    403    403    403    200    302
    GET absent     403    403    403    403    403    403    404    302
    POST dora      403    403    403    403    403    403    200    302
    POST hugo      403    403    403    403    403    403    200    302
    POST absent    403    403    403    403    403    403    404    302
school:change_roles of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:add_certificate of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:void_certificate of certificate_held
    POST bert      403    403    403    403    403    403    422    302
    POST dora      403    403    403    403    403    403    404    302
    POST absent    403    403    403    403    403    403    404    302
school:invite_person of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:revoke_access of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:restore_access of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:stop_change of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:reset_second_step of student
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
school:aircraft
    GET            200    403    403    403    403    403    200    302
    POST           200    403    403    403    403    403    200    302
school:one_aircraft of aircraft
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:add_aircraft_paper of aircraft
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:aircraft_document of aircraft_paper
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:attachment of attachment
    GET dora       200    404    404    200    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
school:void_aircraft_paper of aircraft_paper
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:change_service of aircraft
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:change_type of make
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:add_type
    GET            200    403    403    403    403    403    200    302
    POST           422    403    403    403    403    403    422    302
school:edit_type of make
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:aerodromes
    GET            200    403    403    403    403    403    200    302
    POST           200    403    403    403    403    403    200    302
school:aerodrome of aerodrome
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:add_runway of aerodrome
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:edit_runway of runway
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
school:runway_place of runway
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
    POST here      422    403    403    403    403    403    422    302
    POST absent    404    403    403    403    403    403    404    302
account_login
    GET            302    302    302    302    302    302    302    200
    POST           302    302    302    302    302    302    302    200
mfa_login_webauthn
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
mfa_authenticate
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
account_logout
    POST           302    302    302    302    302    302    302    302
account_reset_password
    GET            200    200    200    200    200    200    200    200
    POST           200    200    200    200    200    200    200    200
account_reset_password_done
    GET            200    200    200    200    200    200    200    200
account_reset_password_from_key_done
    GET            200    200    200    200    200    200    200    200
account_reset_password_from_key of key
    GET absent     200    200    200    200    200    200    200    200
    POST absent    200    200    200    200    200    200    200    200
account_change_password
    GET            200    200    200    200    200    200    200    302
    POST           200    200    200    200    200    200    200    302
account_email
    GET            200    200    200    200    200    200    200    302
    POST           302    302    302    302    302    302    302    302
account_confirm_email of link
    GET absent     200    200    200    200    200    200    200    200
    POST absent    404    404    404    404    404    404    404    404
account_reauthenticate
    GET            200    200    200    200    200    200    200    302
    POST           200    200    200    200    200    200    200    302
mfa_reauthenticate
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
mfa_reauthenticate_webauthn
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
mfa_index
    GET            200    200    200    200    200    200    200    302
mfa_list_webauthn
    GET            200    200    200    200    200    200    200    302
mfa_activate_totp
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
mfa_deactivate_totp
    GET            404    404    404    404    404    404    404    302
    POST           404    404    404    404    404    404    404    302
mfa_add_webauthn
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
mfa_remove_webauthn of row
    GET absent     302    302    302    302    302    302    302    302
    POST absent    302    302    302    302    302    302    302    302
mfa_view_recovery_codes
    GET            404    404    404    404    404    404    404    302
mfa_generate_recovery_codes
    GET            302    302    302    302    302    302    302    302
    POST           302    302    302    302    302    302    302    302
grading:first_steps
    GET            200    403    403    403    403    403    200    302
grading:installation
    GET            403    403    403    403    403    403    200    302
grading:health
    GET            200    200    200    200    200    200    200    200
grading:ready
    GET            200    200    200    200    200    200    200    200
grading:metrics
    GET            404    404    404    404    404    404    404    404
lessons:gates
    GET            200    200    200    403    403    403    200    302
lessons:gate_set of type
    GET here       200    200    200    403    403    403    200    302
    GET absent     404    404    404    403    403    403    404    302
lessons:begin_gates of type
    GET here       200    403    403    403    403    403    403    302
    GET absent     404    403    403    403    403    403    403    302
    POST here      422    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:edit_gates of type
    GET here       200    403    403    403    403    403    403    302
    GET absent     404    403    403    403    403    403    403    302
    POST here      200    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:discard_gates of type
    POST here      302    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:syllabuses
    GET            200    200    200    403    403    403    200    302
lessons:syllabus_schema
    GET            200    200    200    403    403    403    200    302
lessons:import_syllabus
    GET            200    403    403    403    403    403    403    302
    POST           200    403    403    403    403    403    403    302
lessons:syllabus of syllabus
    GET here       200    200    200    403    403    403    200    302
    GET absent     404    404    404    403    403    403    404    302
lessons:syllabus_file of syllabus_file
    GET here       200    200    200    403    403    403    200    302
    GET absent     404    404    404    403    403    403    404    302
lessons:begin_draft of syllabus
    POST here      302    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:syllabus_draft of draft
    GET here       200    403    403    403    403    403    403    302
    GET absent     404    403    403    403    403    403    403    302
lessons:publish_draft of draft
    POST here      422    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:discard_draft of draft
    POST here      302    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:draft_part of draft_part
    GET here       200    403    403    403    403    403    403    302
    GET absent     404    403    403    403    403    403    403    302
    POST here      200    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
lessons:move_student of enrolment
    GET dora       200    403    403    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      422    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:home
    GET            302    302    302    302    302    302    302    302
grading:school_opening
    GET            404    404    404    404    404    404    404    404
    POST           404    404    404    404    404    404    404    404
grading:search
    GET            200    200    200    403    403    403    200    302
grading:expiry_dates
    GET            200    200    200    200    200    200    200    302
    POST           302    302    302    302    302    302    302    302
grading:calendar_feed of calendar
    GET dora       200    200    200    200    200    200    200    200
    GET absent     404    404    404    404    404    404    404    404
grading:own_progress
    GET            200    200    200    200    200    200    200    302
grading:own_lessons
    GET            200    200    200    200    200    200    200    302
grading:week
    GET            200    200    200    403    403    403    200    302
grading:own_personal_data
    GET            200    200    200    200    200    200    200    302
grading:board
    GET            200    200    200    403    403    403    200    302
grading:board_csv
    GET            200    200    200    403    403    403    200    302
grading:reassign_students
    GET            200    403    403    403    403    403    200    302
    POST           200    403    403    403    403    403    200    302
grading:board_choice
    POST           302    302    302    403    403    403    302    302
grading:move_students of syllabus
    GET here       200    403    403    403    403    403    403    302
    GET absent     404    403    403    403    403    403    403    302
    POST here      200    403    403    403    403    403    403    302
    POST absent    404    403    403    403    403    403    403    302
grading:readiness of enrolment
    GET dora       200    200    200    403    404    404    200    302
    GET hugo       .      .      .      404    404    403    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:set_aside_requirement of enrolment
    POST dora      422    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:reinstate_requirement of requirement
    POST dora      302    403    403    403    404    404    403    302
    POST absent    404    404    404    404    404    404    404    302
grading:sign_release of enrolment
    POST dora      422    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:written_test of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:review_test of test
    POST dora      302    302    302    403    404    404    403    302
    POST absent    404    404    404    404    404    404    404    302
    POST no such   404    404    404    403    404    404    403    302
grading:tailwheel_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:complex_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:high_performance_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:night_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:nearby_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:standard
    GET            200    200    200    403    403    403    200    302
    POST           422    403    403    403    403    403    403    302
grading:solo_endorsement of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:end_of_training of enrolment
    GET dora       200    200    200    403    404    404    200    302
    GET hugo       .      .      .      404    404    403    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:end_training of enrolment
    POST dora      422    403    403    403    404    404    422    302
    POST hugo      .      .      .      404    404    403    422    302
    POST absent    404    404    .      404    404    404    404    302
grading:certify_end of enrolment
    POST dora      422    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:withdraw_endorsement of endorsement
    POST dora      422    422    422-   404    404    404    422-   302
    POST absent    404    404    404    404    404    404    404    302
grading:withdraw_release of release
    POST dora      422    422    422    404    404    404    422-   302
    POST absent    404    404    404    404    404    404    404    302
grading:confirm_withdrawal of release
    POST dora      403    403    403    302    404    404    403    302
    POST absent    403    403    403    404    404    404    403    302
grading:lessons
    GET            200    200    200    403    403    403    200    302
grading:begin_lesson of enrolment
    GET dora       200    200    200    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    200    200    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:discarded_lesson of discarded
    GET dora       200    200    200    200    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
grading:discard_lesson of lesson
    POST written   403    422    403    404    404    404    403    302
    POST signed    403    403    403    403    404    404    403    302
    POST cleos     403    403    422    404    404    404    403    302
    POST hugo      .      403    .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:lesson of lesson
    GET written    200    200    200    404    404    404    200    302
    GET signed     200    200    200    200    404    404    200    302
    GET cleos      200    200    200    404    404    404    200    302
    GET hugo       .      200    .      404    404    200    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:debrief of lesson
    GET written    404    404    404    404    404    404    404    302
    GET signed     200    200    200    200    404    404    200    302
    GET cleos      404    404    404    404    404    404    404    302
    GET hugo       .      200    .      404    404    200    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:write_own_view of lesson
    POST written   404    404    404    404    404    404    404    302
    POST signed    422-   422-   422-   422    404    404    422-   302
    POST cleos     404    404    404    404    404    404    404    302
    POST hugo      .      422-   .      404    404    422    422-   302
    POST absent    404    404    .      404    404    404    404    302
grading:circuits of lesson
    GET written    200    200    200    404    404    404    200    302
    GET signed     200    200    200    200    404    404    200    302
    GET cleos      200    200    200    404    404    404    200    302
    GET hugo       .      200    .      404    404    200    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:circuit of circuit
    GET signed     200    200    200    200    404    404    200    302
    GET hugo       .      200    .      404    404    200    200    302
    GET ninth      404    404    404    404    404    404    404    302
    GET absent     404    404    .      404    404    404    404    302
grading:flight_tracks of lesson
    GET written    200    200    200    404    404    404    200    302
    GET signed     200    200    200    200    404    404    200    302
    GET cleos      200    200    200    404    404    404    200    302
    GET hugo       .      200    .      404    404    200    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:read_flight_track of lesson
    POST written   422    422    403    404    404    404    422    302
    POST signed    422    422    403    403    404    404    422    302
    POST cleos     422    403    422    404    404    404    422    302
    POST hugo      .      422    .      404    404    403    422    302
    POST absent    404    404    .      404    404    404    404    302
grading:keep_flight_track of lesson
    POST written   422    422    403    404    404    404    422    302
    POST signed    422    422    403    403    404    404    422    302
    POST cleos     422    403    422    404    404    404    422    302
    POST hugo      .      422    .      404    404    403    422    302
    POST absent    404    404    .      404    404    404    404    302
grading:flight_track_file of track
    GET signed     200    200    200    200    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
    GET unkept     404    404    404    404    404    404    404    302
grading:remove_flight_track of track
    POST signed    302    302    403    302    404    404    302    302
    POST absent    404    404    .      404    404    404    404    302
    POST unkept    404    404    403    404    404    404    404    302
grading:track_circuit of track_circuit
    GET signed     200    200    200    200    404    404    200    302
    GET ninth      404    404    404    404    404    404    404    302
    GET absent     404    404    .      404    404    404    404    302
grading:enter_readings of track_circuit
    POST signed    403    403    403    403    404    404    403    302
    POST written   403    302    403    404    404    404    403    302
    POST ninth     403    403    403    403    404    404    403    302
    POST absent    404    404    404    404    404    404    404    302
grading:grade_track_circuit of track_circuit
    POST signed    403    403    403    403    404    404    403    302
    POST written   403    422    403    404    404    404    403    302
    POST ninth     403    403    403    403    404    404    403    302
    POST absent    404    404    404    404    404    404    404    302
grading:approaches
    GET            200    403    403    403    403    403    403    302
grading:track_uploads
    GET            200    200    200    403    403    403    200    302
    POST           422    422    422    403    403    403    422    302
grading:keep_track_uploads
    POST           422    422    422    403    403    403    422    302
grading:read_uploads_again
    POST           302    302    302    403    403    403    302    302
grading:read_track_upload of track_file
    GET berts      404    200    404    403    403    403    404    302
    GET absent     404    404    404    403    403    403    404    302
grading:choose_track_lesson of track_file
    POST berts     404    422    404    403    403    403    404    302
    POST absent    404    404    404    403    403    403    404    302
grading:discard_track_upload of track_file
    POST berts     404    302    404    403    403    403    404    302
    POST absent    404    404    404    403    403    403    404    302
grading:save_entries of lesson
    POST written   403    302    403    404    404    404    403    302
    POST signed    403    403    403    403    404    404    403    302
    POST cleos     403    403    302    404    404    404    403    302
    POST hugo      .      403    .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:tablet_events of lesson
    POST written   400    400    400    403    403    403    403    302
    POST signed    400    400    400    403    403    403    403    302
    POST cleos     400    400    400    403    403    403    403    302
    POST hugo      .      400    .      403    403    403    403    302
    POST absent    400    400    .      403    403    403    403    302
grading:answer_late_entry of lesson
    POST written   403    422    403    404    404    404    403    302
    POST signed    403    403    403    403    404    404    403    302
    POST cleos     403    403    422    404    404    404    403    302
    POST hugo      .      403    .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:undo_tap of lesson
    POST written   403    302    403    404    404    404    403    302
    POST signed    403    403    403    403    404    404    403    302
    POST cleos     403    403    302    404    404    404    403    302
    POST hugo      .      403    .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:sign_lesson of lesson
    POST written   403    422    403    404    404    404    403    302
    POST signed    403    403    403    403    404    404    403    302
    POST cleos     403    403    422    404    404    404    403    302
    POST hugo      .      403    .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:acknowledge_lesson of lesson
    POST written   422-   422-   422-   404    404    404    422-   302
    POST signed    422-   422-   422-   422    404    404    422-   302
    POST cleos     422-   422-   422-   404    404    404    422-   302
    POST hugo      .      422-   .      404    404    422    422-   302
    POST absent    404    404    .      404    404    404    404    302
grading:correct_lesson of lesson
    POST written   422-   422-   422-   404    404    404    422-   302
    POST signed    422-   422    422-   422-   404    404    422-   302
    POST cleos     422-   422-   422-   404    404    404    422-   302
    POST hugo      .      422    .      404    404    422-   422-   302
    POST absent    404    404    .      404    404    404    404    302
grading:tablet
    GET            200    200    200    200    200    200    200    200
grading:session_check
    GET            200    200    200    200    200    200    200    401
grading:offline_pack
    GET            200    200    200    403    403    403    403    302
grading:blank_lesson of blank
    GET dora       200    200    200    403    404    404    403    302
    GET absent     404    404    404    404    404    404    404    302
grading:service_worker
    GET            200    200    200    200    200    200    200    200
grading:lesson_taps of lesson
    GET written    200    200    200    404    404    404    200    302
    GET signed     200    200    200    403    404    404    200    302
    GET cleos      200    200    200    404    404    404    200    302
    GET hugo       .      200    .      404    404    403    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:findings
    GET            200    200    200    403    403    403    200    302
grading:settle_finding
    POST           422    403    403    403    403    403    422    302
grading:reopen_finding of settled
    POST here      302    403    403    403    403    403    302    302
    POST absent    404    403    403    403    403    403    404    302
grading:findings_csv
    GET            200    200    200    403    403    403    200    302
grading:journal
    GET            200    403    403    403    403    403    200    302
grading:journal_csv
    GET            200    403    403    403    403    403    200    302
grading:own_journal
    GET            403    403    403    200    200    200    403    302
grading:records
    GET            403    403    403    403    403    403    200    302
grading:check_records
    POST           403    403    403    403    403    403    302    302
grading:enrol_student
    GET            403    403    403    403    403    403    200    302
    POST           403    403    403    403    403    403    422    302
grading:background_jobs
    GET            403    403    403    403    403    403    200    302
grading:student_record of enrolment
    GET dora       200    403    403    403    403    403    200    302
    GET hugo       .      .      .      403    403    403    200    302
    GET absent     404    403    .      403    403    403    404    302
grading:change_instructor of enrolment
    GET dora       200    403    403    403    403    403    200    302
    GET hugo       .      .      .      403    403    403    200    302
    GET absent     404    403    .      403    403    403    404    302
    POST dora      422    403    403    403    403    403    422    302
    POST hugo      .      .      .      403    403    403    422    302
    POST absent    404    403    .      403    403    403    404    302
grading:add_paper of enrolment
    POST dora      403    403    403    403    403    403    422    302
    POST hugo      .      .      .      403    403    403    422    302
    POST absent    403    403    .      403    403    403    404    302
grading:document of paper
    GET dora       200    404    404    200    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
    POST dora      403    404    404    403    404    404    422    302
    POST absent    404    404    404    404    404    404    404    302
grading:void_paper of paper
    POST dora      403    403    403    403    403    403    422    302
    POST absent    403    403    403    403    403    403    404    302
grading:print_sheet of enrolment
    POST dora      422    403    403    403    404    404    422    302
    POST hugo      .      .      .      404    404    403    422    302
    POST absent    404    404    .      404    404    404    404    302
grading:logbook of enrolment
    GET dora       200    200    200    200    404    404    200    302
    GET hugo       .      .      .      404    404    200    .      302
    GET absent     404    404    404    404    404    404    404    302
    POST dora      422    422    422    422    404    404    422    302
    POST hugo      .      .      .      404    404    422    .      302
    POST absent    404    404    404    404    404    404    404    302
grading:check_sheet
    GET            200    200    200    200    200    200    200    200
    POST           422    422    422    422    422    422    422    422
grading:check_fingerprint of fingerprint
    GET here       200    200    200    200    200    200    200    200
    GET absent     200    200    200    200    200    200    200    200
    POST here      422    422    422    422    422    422    422    422
    POST absent    422    422    422    422    422    422    422    422
grading:signing_certificate of certificate
    GET here       200    200    200    200    200    200    200    200
    GET absent     404    404    404    404    404    404    404    404
grading:instructor of instructor
    GET bert       200    200    403    404    404    404    200    302
    GET dora       404    404    404    404    404    404    404    302
    GET absent     404    404    404    404    404    404    404    302
grading:endorsement_list of instructor
    GET bert       200    200    403    404    404    404    200    302
    GET dora       404    404    404    404    404    404    404    302
    GET absent     404    404    404    404    404    404    404    302
    POST bert      .      302    403    404    404    404    .      302
    POST dora      404    404    404    404    404    404    404    302
    POST absent    404    404    404    404    404    404    404    302
grading:sheet_pdf of sheet
    GET dora       200    200    200    200    404    404    200    302
    GET hugo       .      .      .      404    404    200    200    302
    GET bert       200    200    404    404    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
grading:retention
    GET            200    403    403    403    403    403    200    302
grading:set_track_term
    POST           422    403    403    403    403    403    403    302
grading:erasure of enrolment
    GET dora       200    403    403    403    403    403    200    302
    GET hugo       .      .      .      403    403    403    200    302
    GET absent     404    403    .      403    403    403    404    302
grading:propose_erasure of enrolment
    POST dora      422    403    403    403    403    403    422    302
    POST hugo      .      .      .      403    403    403    422    302
    POST absent    404    403    .      403    403    403    404    302
grading:withdraw_erasure of enrolment
    POST dora      422    403    403    403    403    403    422    302
    POST hugo      .      .      .      403    403    403    422    302
    POST absent    404    403    .      403    403    403    404    302
grading:confirm_erasure of enrolment
    POST dora      422    403    403    403    403    403    422    302
    POST hugo      .      .      .      403    403    403    422    302
    POST absent    404    403    .      403    403    403    404    302
grading:personal_data of enrolment
    POST dora      403    403    403    403    403    403    200    302
    POST hugo      .      .      .      403    403    403    200    302
    POST absent    403    403    .      403    403    403    404    302
grading:school_settings
    GET            200    403    403    403    403    403    200    302
    POST           200    403    403    403    403    403    200    302
grading:imports
    GET            403    403    403    403    403    403    200    302
    POST           403    403    403    403    403    403    200    302
grading:example_table of example
    GET here       403    403    403    403    403    403    200    302
    GET absent     403    403    403    403    403    403    404    302
grading:table_import of table
    GET here       403    403    403    403    403    403    200    302
    GET absent     403    403    403    403    403    403    404    302
    POST here      403    403    403    403    403    403    302    302
    POST absent    403    403    403    403    403    403    404    302
grading:record_import of record
    GET here       403    403    403    403    403    403    200    302
    GET absent     403    403    403    403    403    403    404    302
    POST here      403    403    403    403    403    403    200    302
    POST absent    403    403    403    403    403    403    404    302
grading:discard_upload of table
    POST here      403    403    403    403    403    403    302    302
    POST absent    403    403    403    403    403    403    404    302
grading:handover_schema
    GET            200    200    200    200    200    200    200    302
grading:hand_over_record of student
    POST dora      200    403    403    200    404    404    200    302
    POST hugo      .      .      .      404    404    200    200    302
    POST absent    404    404    .      404    404    404    404    302
grading:earlier_training of student
    GET dora       200    200    200    200    404    404    200    302
    GET hugo       .      .      .      404    404    200    200    302
    GET absent     404    404    .      404    404    404    404    302
grading:received_record of received
    GET dora       200    200    200    200    404    404    200    302
    GET absent     404    404    404    404    404    404    404    302
grading:training_credit of enrolment
    GET dora       200    403    403    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:earlier_evidence of enrolment
    GET dora       200    403    403    403    404    404    403    302
    GET hugo       .      .      .      404    404    403    403    302
    GET absent     404    404    .      404    404    404    404    302
    POST dora      200    403    403    403    404    404    403    302
    POST hugo      .      .      .      404    404    403    403    302
    POST absent    404    404    .      404    404    404    404    302
grading:print_runs
    GET            200    403    403    403    403    403    200    302
grading:request_print_run
    GET            200    403    403    403    403    403    200    302
    POST           422    403    403    403    403    403    422    302
grading:print_run of run
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
grading:cancel_print_run of run
    POST here      302    403    403    403    403    403    302    302
    POST absent    404    403    403    403    403    403    404    302
grading:retry_print_run of run
    POST here      302    403    403    403    403    403    302    302
    POST absent    404    403    403    403    403    403    404    302
grading:print_run_file of run
    GET here       200    403    403    403    403    403    200    302
    GET absent     404    403    403    403    403    403    404    302
"""

# What a person who may do it would send, so that it is the access that refuses and not the form.
PERMITTED_FORMS: dict[str, dict[str, str]] = {
    "lessons:begin_gates": {"act": "begin", "kind": "tricycle", "height_ft": "1000", "width_ft": "4500"},
    "lessons:edit_gates": {"act": "keep", "shape": "square"},
    "lessons:import_syllabus": {"text": "code: x"},
    "lessons:draft_part": {"act": "remove"},
    "grading:board_choice": {"act": "save", "name": "Close", "show": "close", "rows": "roomy"},
    "grading:move_students": {"act": "move", "reason": "No."},
    "grading:reassign_students": {"act": "undo", "entry": "1"},
    "grading:settle_finding": {"facts": "0", "reason": "No."},
    "grading:set_aside_requirement": {"requirement": "no_take_over", "reason": "No."},
    "grading:end_training": {"on": "2026-01-01", "end": "terminated"},
    "grading:withdraw_endorsement": {"reason": "No."},
    "grading:withdraw_release": {"reason": "No."},
    "grading:save_entries": {"lesson.remarks": "Not mine."},
    "grading:sign_lesson": {"secret": SECRET},
    "grading:acknowledge_lesson": {"secret": SECRET},
    "grading:correct_lesson": {"reason": "No."},
    "grading:write_own_view": {
        "line": "Not mine.",
        **dict.fromkeys(("level.takeoff", "level.downwind", "level.approach", "level.landing"), "perform"),
    },
    "grading:certify_end": {"secret": SECRET},
    "grading:add_paper": {"kind": "english", "issued": "2026-01-01"},
    "grading:void_paper": {"reason": "No."},
    "school:void_certificate": {"reason": "No."},
    "school:add_aircraft_paper": {"kind": "annual", "issued": "2026-01-01"},
    "school:void_aircraft_paper": {"reason": "No."},
    "grading:print_sheet": {"kind": "progress", "paper": "A4"},
    "grading:propose_erasure": {"reason": "No."},
    "grading:set_track_term": {"months": "12"},
    "grading:confirm_erasure": {"secret": SECRET},
    "grading:school_settings": {"name": "Another School"},
    "grading:request_print_run": {"kind": "progress", "chosen": "active", "paper": "A4", "on": "2026-01-01"},
}


class Expected(NamedTuple):
    """`refused`: nothing that is sent makes it answer otherwise."""

    status: int
    refused: bool


class PageRow(NamedTuple):
    """`answers`: by method and object, then by person."""

    kind: str
    answers: dict[tuple[str, str], dict[str, Expected]]


def _expected(who: str, status: str) -> Expected:
    number = int(status.rstrip("-"))
    return Expected(number, number in (403, 404) or status.endswith("-") or (who == "nobody" and number == 302))


def _parse_matrix(table: str) -> dict[str, PageRow]:
    rows: dict[str, PageRow] = {}
    for line in table.strip().splitlines()[1:]:
        words = line.split()
        if not line.startswith(" "):
            rows[words[0]] = row = PageRow(words[2] if len(words) > 1 else "", {})
            continue
        statuses = words[-len(PEOPLE) :]
        method, *target = words[: -len(PEOPLE)]
        row.answers[method, " ".join(target)] = {
            who: _expected(who, status) for who, status in zip(PEOPLE, statuses, strict=True) if status != "."
        }
    return rows


ACCESS_MATRIX = _parse_matrix(MATRIX_TEXT)
