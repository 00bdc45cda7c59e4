-- The rows of a school as an older version of the program left them, with two sealed lessons. Its tables are not here:
-- lay_older in tests/databases.py makes them by the migrations of that version, and says how this file is made.

COPY grading_attempt (id, part, ordinal, level, help, circuit_id, lesson_id, manoeuvre_id, step) FROM stdin;
1	takeoff	1	perform	none	1	1	15	
2	approach	1	perform	none	1	1	16	
3	landing	1	perform	none	1	1	17	
4	takeoff	1	perform	none	2	1	15	
5	approach	1	perform	none	2	1	16	
6	landing	1	perform	none	2	1	17	
7	takeoff	1	perform	none	3	2	15	
8	approach	1	perform	none	3	2	16	
9	landing	1	perform	none	3	2	17	
10	takeoff	1	perform	none	4	2	15	
11	approach	1	perform	none	4	2	16	
12	landing	1	perform	none	4	2	17	
\.

COPY grading_grade (id, proposed, explanation, given, help, lesson_id, manoeuvre_id, given_step, proposed_step) FROM stdin;
1	perform	Perform: as tapped (the lower of the last two).	perform	none	1	15		
2	perform	Perform: as tapped (the lower of the last two).	perform	none	1	16		
3	perform	Perform: as tapped (the lower of the last two).	perform	none	1	17		
4	perform	Perform: as tapped (the lower of the last two).	perform	none	2	15		
5	perform	Perform: as tapped (the lower of the last two).	perform	none	2	16		
6	perform	Perform: as tapped (the lower of the last two).	perform	none	2	17		
\.

COPY grading_seal (number, kind, subject, canonical, previous, digest, sealed_at) FROM stdin;
1	lesson	49121f42-e725-47e4-890d-c6a3f5feeb0b	{"aircraft":"QQ-XXA","aircraft_type":"Sandling 2","circuits":[{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":1,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}},{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":2,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}}],"correction_reason":"","date":"2026-06-08","enrolment":"0d4612f6-87b9-4ff6-9e9d-322687f0316e","format":2,"grades":[{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"takeoff","proposed":"perform","proposed_step":"perform","title":"Takeoff"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"approach","proposed":"perform","proposed_step":"perform","title":"Approach"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"landing","proposed":"perform","proposed_step":"perform","title":"Landing"}],"id":"49121f42-e725-47e4-890d-c6a3f5feeb0b","instructor":{"name":"Bert Example","reference":"T-2"},"landings":2,"manoeuvres":[],"minutes":{"dual":60,"ground":0,"instrument":0,"night":0,"solo":0},"next_time":"","number":1,"off_blocks":null,"on_blocks":null,"outside_release":"","record":"lesson","remarks":"","replaces":null,"runway":"ZZZX runway 18","scale":"Learner-centred grades, issue 1","signature":{"act":"signed","capacity":"instructor","certificate_number":"C-2","certificate_valid":"recent experience until 2027-10-24","id":"dc5e4663-2b79-4712-bbfe-bce9c75d6cd8","meaning":"I gave this training on this day, and what is recorded here is what I saw.","name":"Bert Example","reference":"T-2","remark":"","signed_at":"2026-06-08T11:00:00Z"},"student":{"name":"Dora Example","reference":"T-4"},"syllabus":"To first solo, issue 1","takeoffs":2,"unit":{"kind":"dual","number":8,"title":"First circuits"},"version":1,"weather_report":"","wind":{"from":null,"gust_kt":null,"north":"magnetic","speed_kt":null}}		6571c30b661209c52db89837f089bd468d2e7fc0e78577e06d640403f2c24cc3	2026-06-08 11:00:00+00
2	lesson	a2158d51-a0c3-484d-bc85-a9353229e9c2	{"aircraft":"QQ-XXA","aircraft_type":"Sandling 2","circuits":[{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":1,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}},{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":2,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}}],"correction_reason":"","date":"2026-06-10","enrolment":"0d4612f6-87b9-4ff6-9e9d-322687f0316e","format":2,"grades":[{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"takeoff","proposed":"perform","proposed_step":"perform","title":"Takeoff"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"approach","proposed":"perform","proposed_step":"perform","title":"Approach"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"landing","proposed":"perform","proposed_step":"perform","title":"Landing"}],"id":"a2158d51-a0c3-484d-bc85-a9353229e9c2","instructor":{"name":"Bert Example","reference":"T-2"},"landings":2,"manoeuvres":[],"minutes":{"dual":60,"ground":0,"instrument":0,"night":0,"solo":0},"next_time":"","number":2,"off_blocks":null,"on_blocks":null,"outside_release":"","record":"lesson","remarks":"","replaces":null,"runway":"ZZZX runway 18","scale":"Learner-centred grades, issue 1","signature":{"act":"signed","capacity":"instructor","certificate_number":"C-2","certificate_valid":"recent experience until 2027-10-24","id":"26a34d97-b4b9-4e94-8dcd-fe41dc3b71d6","meaning":"I gave this training on this day, and what is recorded here is what I saw.","name":"Bert Example","reference":"T-2","remark":"","signed_at":"2026-06-10T11:00:00Z"},"student":{"name":"Dora Example","reference":"T-4"},"syllabus":"To first solo, issue 1","takeoffs":2,"unit":{"kind":"dual","number":8,"title":"First circuits"},"version":1,"weather_report":"","wind":{"from":null,"gust_kt":null,"north":"magnetic","speed_kt":null}}	6571c30b661209c52db89837f089bd468d2e7fc0e78577e06d640403f2c24cc3	eed594368a27cea70ce4f691fd07e85a28bb7815502163a308aadc6f014a05f9	2026-06-10 11:00:00+00
\.

COPY grading_signature (id, uid, capacity, act, meaning, remark, name, reference, certificate_number, certificate_valid, signed_at, lesson_id, person_id, release_id, drawn, endorsement_id, enrolment_id) FROM stdin;
1	dc5e4663-2b79-4712-bbfe-bce9c75d6cd8	instructor	signed	I gave this training on this day, and what is recorded here is what I saw.		Bert Example	T-2	C-2	recent experience until 2027-10-24	2026-06-08 11:00:00+00	1	2	\N		\N	\N
2	26a34d97-b4b9-4e94-8dcd-fe41dc3b71d6	instructor	signed	I gave this training on this day, and what is recorded here is what I saw.		Bert Example	T-2	C-2	recent experience until 2027-10-24	2026-06-10 11:00:00+00	2	2	\N		\N	\N
\.

COPY grading_standard (id, key, rule_set, valid_from, content) FROM stdin;
1	eu-2025	eu	2025-01-01	{"key": "eu-2025", "title": "First solo, Part-FCL", "rule_set": "eu", "solo_level": "perform", "valid_from": "2025-01-01", "requirements": [{"key": "age", "kind": "legal", "check": "age", "group": "papers", "title": "Sixteen years of age", "source": "FCL.020(b), from memory", "values": {"years": 16}}, {"key": "medical", "kind": "legal", "check": "medical", "group": "papers", "title": "Medical in force", "source": "MED.A.030(a); its end is the date written on it", "values": {"classes": ["1", "2", "lapl"], "as_written": 1}}, {"key": "knowledge_test", "kind": "school", "check": "knowledge_test", "group": "papers", "title": "Pre-solo knowledge test", "source": "the school's own", "values": {"topics": ["rules", "aerodrome", "make_and_model"]}}, {"key": "training_received", "kind": "school", "check": "training_received", "group": "training", "title": "Training before first solo received", "source": "in place of AMC1 FCL.210 exercises 1 to 13, by the items of 14 CFR 61.87(d)", "values": {"items": ["61.87(d)(1)", "61.87(d)(2)", "61.87(d)(3)", "61.87(d)(4)", "61.87(d)(5)", "61.87(d)(6)", "61.87(d)(7)", "61.87(d)(8)", "61.87(d)(9)", "61.87(d)(10)", "61.87(d)(11)", "61.87(d)(12)", "61.87(d)(13)", "61.87(d)(14)", "61.87(d)(15)"], "similar_types": []}}, {"key": "takeoffs_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three takeoffs in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["takeoff"], "needed": 3, "lessons": 2}}, {"key": "approaches_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three approaches in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["approach"], "needed": 3, "lessons": 2}}, {"key": "landings_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three landings in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["landing"], "needed": 3, "lessons": 2}}, {"key": "go_around", "kind": "school", "check": "shown_unaided", "group": "standard", "title": "Go-around shown without help", "source": "the school's own", "values": {"manoeuvres": ["go_around"]}}, {"key": "engine_failure", "kind": "school", "check": "last_at_level", "group": "standard", "title": "Engine failure after takeoff and circuit emergencies", "source": "the school's own", "values": {"manoeuvres": ["engine_failure_after_takeoff", "circuit_emergencies"]}}, {"key": "no_take_over", "kind": "school", "check": "no_take_over", "group": "standard", "title": "No taking over by the instructor", "source": "the school's own", "values": {"circuits": 10}}, {"key": "no_open_critical_fault", "kind": "school", "check": "no_open_critical_fault", "group": "standard", "title": "No open critical fault", "source": "the school's own", "values": {"clean": 3}}, {"key": "second_instructor", "kind": "school", "check": "second_instructor", "group": "standard", "title": "Stage check with a second instructor", "source": "the school's own", "values": {}}, {"key": "consistent", "kind": "school", "check": "consistent", "group": "consistency", "title": "Numbers at the gates hold", "source": "the school's own", "values": {"gates": ["final.speed", "final.height", "touchdown.distance"], "least": 6, "percent": 80}}, {"key": "recent_training", "kind": "legal", "check": "recent_training", "group": "recency", "title": "Training in the type within 30 days", "source": "FCL.020(a): authorised and supervised by an instructor; the days are the school's own", "values": {"days": 30}}, {"key": "recent_circuit", "kind": "school", "check": "recent_circuit", "group": "recency", "title": "A circuit to standard within 14 days", "source": "the school's own", "values": {"days": 14}}]}
2	us-2025	us	2025-01-01	{"key": "us-2025", "title": "First solo, 14 CFR part 61", "rule_set": "us", "solo_level": "perform", "valid_from": "2025-01-01", "requirements": [{"key": "student_certificate", "kind": "legal", "check": "paper", "group": "papers", "title": "Student pilot certificate", "source": "14 CFR 61.83", "values": {"kinds": ["student_certificate"]}}, {"key": "age", "kind": "legal", "check": "age", "group": "papers", "title": "Sixteen years of age", "source": "14 CFR 61.83(a)", "values": {"years": 16}}, {"key": "english", "kind": "legal", "check": "paper", "group": "papers", "title": "English read, spoken, written and understood", "source": "14 CFR 61.83(c)", "values": {"kinds": ["english"]}}, {"key": "medical", "kind": "legal", "check": "medical", "group": "papers", "title": "Medical in force", "source": "14 CFR 61.23(a)(3)(i), (d)", "values": {"classes": ["1", "2", "3"]}}, {"key": "knowledge_test", "kind": "legal", "check": "knowledge_test", "group": "papers", "title": "Pre-solo knowledge test", "source": "14 CFR 61.87(b)", "values": {"topics": ["rules", "aerodrome", "make_and_model"]}}, {"key": "training_received", "kind": "legal", "check": "training_received", "group": "training", "title": "Fifteen items of training received", "source": "14 CFR 61.87(c)-(d)", "values": {"items": ["61.87(d)(1)", "61.87(d)(2)", "61.87(d)(3)", "61.87(d)(4)", "61.87(d)(5)", "61.87(d)(6)", "61.87(d)(7)", "61.87(d)(8)", "61.87(d)(9)", "61.87(d)(10)", "61.87(d)(11)", "61.87(d)(12)", "61.87(d)(13)", "61.87(d)(14)", "61.87(d)(15)"], "similar_types": []}}, {"key": "tailwheel_endorsement", "kind": "legal", "check": "tailwheel_endorsement", "group": "training", "title": "Tailwheel endorsement", "source": "14 CFR 61.31(i)", "values": {}}, {"key": "takeoffs_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three takeoffs in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["takeoff"], "needed": 3, "lessons": 2}}, {"key": "approaches_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three approaches in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["approach"], "needed": 3, "lessons": 2}}, {"key": "landings_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three landings in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["landing"], "needed": 3, "lessons": 2}}, {"key": "go_around", "kind": "school", "check": "shown_unaided", "group": "standard", "title": "Go-around shown without help", "source": "the school's own", "values": {"manoeuvres": ["go_around"]}}, {"key": "engine_failure", "kind": "school", "check": "last_at_level", "group": "standard", "title": "Engine failure after takeoff and circuit emergencies", "source": "the school's own", "values": {"manoeuvres": ["engine_failure_after_takeoff", "circuit_emergencies"]}}, {"key": "no_take_over", "kind": "school", "check": "no_take_over", "group": "standard", "title": "No taking over by the instructor", "source": "the school's own", "values": {"circuits": 10}}, {"key": "no_open_critical_fault", "kind": "school", "check": "no_open_critical_fault", "group": "standard", "title": "No open critical fault", "source": "the school's own", "values": {"clean": 3}}, {"key": "second_instructor", "kind": "school", "check": "second_instructor", "group": "standard", "title": "Stage check with a second instructor", "source": "the school's own", "values": {}}, {"key": "consistent", "kind": "school", "check": "consistent", "group": "consistency", "title": "Numbers at the gates hold", "source": "the school's own", "values": {"gates": ["final.speed", "final.height", "touchdown.distance"], "least": 6, "percent": 80}}, {"key": "recent_training", "kind": "legal", "check": "recent_training", "group": "recency", "title": "Training in the type within 90 days", "source": "14 CFR 61.87(n), (p)", "values": {"days": 90}}, {"key": "recent_circuit", "kind": "school", "check": "recent_circuit", "group": "recency", "title": "A circuit to standard within 14 days", "source": "the school's own", "values": {"days": 14}}]}
\.

COPY grading_tap (id, uid, at, field, before, after, lesson_id, person_id, undoes_id) FROM stdin;
1	334f0cba-c973-4c8b-b146-30f2648f03ab	2026-06-11 10:00:00+00	lesson.dual_minutes		1:00	1	2	\N
2	eb17b245-d3c7-4331-be1e-d6265a4400f2	2026-06-11 10:00:00+00	circuit.1.takeoff.level		perform	1	2	\N
3	6dbd7fdf-e5b2-4775-a20d-921f4938289f	2026-06-11 10:00:00+00	circuit.1.approach.level		perform	1	2	\N
4	f731384e-65aa-4062-bd8b-3c9d0fe4fd4e	2026-06-11 10:00:00+00	circuit.1.landing.level		perform	1	2	\N
5	7308ab23-8744-41b0-9e90-1acfaa6622e9	2026-06-11 10:00:00+00	circuit.1.closed		on	1	2	\N
6	ee9975af-20fc-45ba-b1ac-8b391bbd2d5b	2026-06-11 10:00:00+00	circuit.2.takeoff.level		perform	1	2	\N
7	b2a651de-cd1f-47b2-89e3-ba6b35c0d624	2026-06-11 10:00:00+00	circuit.2.approach.level		perform	1	2	\N
8	8586cffd-a319-4365-8a29-19cc48de07c6	2026-06-11 10:00:00+00	circuit.2.landing.level		perform	1	2	\N
9	b005e902-6f4b-4e05-8d7d-5662ac7a9751	2026-06-11 10:00:00+00	circuit.2.closed		on	1	2	\N
10	aa1beb70-10c5-419e-9254-1cab23d88f9e	2026-06-11 10:00:00+00	lesson.dual_minutes		1:00	2	2	\N
11	2fb64346-c5a1-4a91-b1d7-26d04b86317b	2026-06-11 10:00:00+00	circuit.1.takeoff.level		perform	2	2	\N
12	2901ba7d-7fab-410c-b0cb-5c1532ce8aaf	2026-06-11 10:00:00+00	circuit.1.approach.level		perform	2	2	\N
13	54ff0e1a-6947-4df2-ac14-02067ec29707	2026-06-11 10:00:00+00	circuit.1.landing.level		perform	2	2	\N
14	bb0e5b24-8efc-4e63-aa3d-2e48c4eaee58	2026-06-11 10:00:00+00	circuit.1.closed		on	2	2	\N
15	03e5065d-35b5-4707-8655-5984dcb40681	2026-06-11 10:00:00+00	circuit.2.takeoff.level		perform	2	2	\N
16	5835a28d-aed7-40eb-9c0a-8ad1fe3cbb1a	2026-06-11 10:00:00+00	circuit.2.approach.level		perform	2	2	\N
17	623e9535-5add-4d72-bcae-0004b6759f7b	2026-06-11 10:00:00+00	circuit.2.landing.level		perform	2	2	\N
18	bc82b19a-53e1-4b00-bed9-69b4f6152c47	2026-06-11 10:00:00+00	circuit.2.closed		on	2	2	\N
\.

COPY lessons_circuit (id, number, ending, closed, lesson_id) FROM stdin;
1	1	full_stop	t	1
2	2	full_stop	t	1
3	1	full_stop	t	2
4	2	full_stop	t	2
\.

COPY lessons_criterion (id, code, "order", text, kind, gate, quantity, from_unit, manoeuvre_id) FROM stdin;
1	plan	0	Weather, weight, performance and fuel worked out before the walk-round	observed			\N	1
2	walk-round	1	Walk-round complete and in order; fuel and oil seen, not assumed	observed			\N	1
3	start	2	Area called clear; start, warm-up and instrument checks by the list	observed			\N	1
4	after	3	Shut down, made safe and written up after flight	observed			\N	1
5	brakes	0	Brakes checked at the first roll	observed			\N	2
6	pace	1	Walking pace, power before brake	observed			\N	2
7	wind	2	Stick held for the wind	observed			\N	2
8	weave	3	Weaves to see ahead where the nose hides the way	observed			\N	2
9	run-up	4	Run-up into wind, clear behind, eyes outside	observed			\N	2
10	scan	0	Scans in sectors, clears the turn before turning	observed			\N	3
11	wake	1	Leaves room behind heavier traffic	observed			\N	3
12	shear	2	Names signs of windshear and what to do	observed			\N	3
13	primary	0	Knows what each control does and its further effect	observed			\N	4
14	trim	1	Trims off the load, not with it	observed			\N	4
15	attitude	0	Sets attitude and power, then trims	observed			\N	5
16	height	1	Holds height and heading by the horizon, checks by instrument	observed			\N	5
17	balance	2	Ball in the middle, wings level	observed			\N	5
18	attitude	0	Power, attitude, trim in that order; rudder for the power	observed			\N	6
19	speed	1	Holds the climb speed, clears ahead of the nose	observed			\N	6
20	turn	2	Climbing turns shallow, speed held	observed			\N	6
21	level	3	Levels off at the height, then reduces power	observed			\N	6
22	glide	0	Holds the gliding speed in high and low drag	observed			\N	7
23	turn	1	Descending turns both ways, speed held	observed			\N	7
24	engine	2	Warms the engine in a long glide	observed			\N	7
25	lookout	0	Looks before and through the turn	observed			\N	8
26	balance	1	In balance both ways	observed			\N	8
27	height	2	Height held, bank steady	observed			\N	8
28	roll-out	3	Rolls out on the heading	observed			\N	8
29	control	0	Keeps height and heading slow, without the warning sounding	observed			\N	9
30	recover	1	Returns to cruise without losing height	observed			\N	9
31	checks	0	Height, clear below, loose articles checked first	observed			\N	10
32	signs	1	Calls the first sign	observed			\N	10
33	recovery	2	Eases the stick forward first; then power, wings level, out of the dive	observed			\N	10
34	full	3	Recovers from the full stall without a second one	observed			\N	10
35	spin	4	Knows what leads to a spin and leaves it at the first yaw	observed			\N	10
36	drift	0	Allows for the wind along a line and round a point	observed			\N	11
37	height	1	Holds height and speed while looking outside	observed			\N	11
38	bank	2	Steepens and eases the bank as the wind asks	observed			\N	11
39	lookout	0	Looks, then leaves by the way the aerodrome publishes	observed			\N	12
40	height	1	Leaves at or above circuit height, clear of those joining	observed			\N	12
41	angle	0	Joins at a shallow angle, looking for others	observed			\N	13
42	height	1	Level at the joining height	measured	join	height	\N	13
43	speed	2	Speed on joining	measured	join	speed	\N	13
44	calls	3	Calls and checks in time	observed			\N	13
45	lookout	0	Looks before every turn; knows where the others are	observed			\N	14
46	spacing	1	Keeps the same distance out, allowing for the wind	observed			\N	14
47	downwind	2	Level on the downwind leg	measured	downwind	height	\N	14
48	checks	3	Checks called; wheels seen locked where they retract	observed			\N	14
49	flap	4	Flap set at its place and trimmed	observed			\N	14
50	level	5	Height abeam the point	measured	abeam	height	\N	14
51	speed	6	Speed abeam the point	measured	abeam	speed	\N	14
52	lookout	0	Looks along the approach before lining up	observed			\N	15
53	power	1	Power smoothly to the limit, engine read	observed			\N	15
54	tail	2	Attitude set and held; tail raised where there is one to raise	observed			9	15
55	straight	3	Held straight, swing met early with small feet	observed			\N	15
56	lift-off-attitude	4	Flies off in the right attitude	observed			9	15
57	lift-off	5	Lift-off speed	measured	lift-off	speed	\N	15
58	wheels	6	Wheels up at their height, where they retract	measured	wheels-up	height	9	15
59	flap	7	Flap up at its height, where it was set	measured	flap-up	height	9	15
60	reduce	8	Power and propeller back once safe	observed			9	15
61	climb	9	Climb speed, in trim	measured	climb	speed	\N	15
62	turn	10	First turn at its height, after looking	measured	first-turn	height	\N	15
63	after	11	After-takeoff checks done	observed			\N	15
64	power	0	Power and propeller set at the right place	observed			10	16
65	start	1	Turn begun in time for the wind	observed			\N	16
66	turn	2	Turn in balance, never steepened to reach final	observed			\N	16
67	place	3	Wings level on final at its distance from the aiming point	measured	final	distance	\N	16
68	speed	4	Speed on final	measured	final	speed	\N	16
69	height	5	Height on final	measured	final	height	\N	16
70	obstacle	6	Clears what lies before the runway with room	observed			\N	16
71	wind	7	Speed and track allow for wind and gust	observed			\N	16
72	round-out	0	Round-out begun at its height	measured	round-out	height	10	17
73	low	1	Landing attitude reached low	observed			\N	17
74	held	2	Held off until it will fly no more	observed			\N	17
75	attitude	3	Touches in the landing attitude, no drift	observed			\N	17
76	place	4	Touchdown on or just past the aiming point	measured	touchdown	distance	\N	17
77	roll	5	Rolls straight to a stop, stick back	observed			\N	17
78	throttle	6	Hand near the throttle until slow	observed			\N	17
79	limit	0	Works out the crosswind and names both limits: the type’s and their own	observed			\N	18
80	aileron	1	Aileron into wind, less as speed comes	observed			\N	18
81	clean	2	Leaves the ground clean, then sets the drift	observed			\N	18
82	limit	0	Works out the crosswind on the day and says go or no	observed			\N	19
83	align	1	Aligned and without drift at touchdown	observed			\N	19
84	wing	2	Upwind wheel first, aileron kept in to the stop	observed			\N	19
85	attitude	0	Near level at touchdown, sinking slowly	observed			\N	20
86	pin	1	Eases forward on contact, never jabs	observed			\N	20
87	tail	2	Tail lowered by the stick before the controls fade	observed			\N	20
88	why	3	Knows whether the maker advises against it	observed			\N	20
89	plan	0	Wider, longer, flatter: says why beforehand	observed			\N	21
90	speed	1	Holds the flapless speed of the type’s handbook	observed			\N	21
91	type	0	Slips only as the type’s handbook allows	observed			\N	22
92	speed	1	Speed held in the slip, by attitude	observed			\N	22
93	straighten	2	Straightened in time, low but not late	observed			\N	22
94	decide	0	Decides early and alone	observed			\N	23
95	power	1	Full power at once, feet with it, nose held	observed			\N	23
96	flap	2	Flap up in steps once climbing	observed			\N	23
97	climb	3	Climbs away straight, in trim, then calls	observed			\N	23
98	plan	0	Names the place and the signs for stopping beforehand	observed			\N	24
99	close	1	Throttle shut at once, straight, brakes with care	observed			\N	24
100	plan	0	Says the plan before each takeoff	observed			\N	25
101	nose	1	Nose down at once to the gliding speed	observed			\N	25
102	ahead	2	Lands ahead, small turns only, never back	observed			\N	25
103	drill	3	Fuel, switches, straps, in what time there is	observed			\N	25
104	field	0	Picks a place within reach from any leg	observed			\N	26
105	glide	1	Glides to it, saves height for the last turn	observed			\N	26
106	drill	2	Flies first; then drill and call	observed			\N	26
107	glide	0	Best gliding speed at once, trimmed	observed			\N	27
108	field	1	Chooses a landing area in reach, for wind and surface	observed			\N	27
109	path	2	Plans heights on the way; flap or slip only when sure of it	observed			\N	27
110	break	3	Breaks off at the agreed height, engine warmed	observed			\N	27
111	fly	0	Flies first, then finds the fault	observed			\N	28
112	list	1	Uses the type’s list; knows what is done from memory	observed			\N	28
113	systems	2	Says what is lost with electrics, airspeed, flap, brakes or wheels	observed			\N	28
114	calls	0	Short, in time, listens first	observed			\N	29
\.

COPY lessons_enrolment (id, uid, enrolled_on, ended_on, "end", aircraft_type_id, instructor_id, student_id, syllabus_id) FROM stdin;
1	0d4612f6-87b9-4ff6-9e9d-322687f0316e	2025-11-23	\N		1	2	4	1
2	bcc8c229-e897-4bae-8eda-add699fbf961	2025-11-23	\N		1	2	5	1
\.

COPY lessons_fault (id, code, "order", name, critical, cause, cure, source, syllabus_id, signs) FROM stdin;
1	no-lookout-lining-up	0	No look-out	t	In a hurry to roll, or eyes on the checklist.	Stop at the line, look along the approach and the runway, say what you see.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
2	throttle-abrupt	1	Throttle abrupt	f	The hand moves before the feet are ready.	Count three from idle to full; let the feet answer as the power comes.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
3	engine-not-read	2	Engine not read	f	All attention goes to keeping straight.	Full power, one glance: pressures, revolutions, speed alive. If one is wrong, stop.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
4	swing-late	3	Swing met late	f	Looking at the nose and not along the runway edge.	Look far ahead; small quick rudder, off again before it bites.	common practice	1	{}
5	swerved-takeoff	4	Swerved	t	Swing let go too far, then too much rudder.	If it is not coming back, close the throttle, keep straight, stop; begin again from the start.	common practice	1	{}
6	tail-attitude	5	Tail attitude wrong	f	Stick pushed or held by habit.	Set the attitude against the horizon and hold it; feel the weight leave the wheels.	common practice	1	{}
7	lift-off-early	6	Lifted off early	f	Pulled by the speed dial or by impatience.	Let it fly off from the attitude; a light pull only when it is ready.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{lift-off.speed.under}
8	torque	7	Torque not held	f	Rudder eased once the wheels are off.	Hold the ball in the middle until the power is back.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
9	climb-drift	8	Wing low in the climb	f	Looking only at the nose, so a low wing goes unseen.	Look to both sides and behind in turn; the runway should lie straight back.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
10	climb-speed	9	Climb speed off	f	Chasing the needle.	Set attitude and power, wait, trim, then read.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{climb.speed.over,climb.speed.under}
11	checks-late-takeoff	10	Checks late	f	Busy with the climb, so the flow is forgotten.	Tie each check to a height.	common practice	1	{}
12	first-turn-low	11	First turn low	t	Turning on habit or to keep the circuit small.	Speed, height, look: all three before the first bank. Never turn to catch up.	common practice	1	{first-turn.height.under}
13	circuit-lookout	12	No look-out	t	Eyes on the runway or the instruments, ears on the radio only.	Look along the new heading before each turn and say it; find everyone you heard.	common practice	1	{}
14	spacing	13	Spacing wrong	f	Wind not allowed for, or eyes inside.	Pick a place on the wing for the runway and keep it there.	common practice	1	{}
15	height-circuit	14	Height wandered	f	Out of trim on the downwind leg.	Level, wait for the speed, trim, then look out.	common practice	1	{downwind.height.over,downwind.height.under,join.height.over,join.height.under,abeam.height.over,abeam.height.under}
16	checks-late	15	Checks late	f	The downwind leg was used for something else.	Begin the checks abeam the far end, always.	common practice	1	{}
17	gear-not-checked	16	Wheels not checked	t	The call was made from habit, without looking.	Touch, look, say: the call comes after the eye.	common practice	1	{}
18	joined-steep	17	Joined at a bad angle	f	Runway seen late, or joining height reached in the circuit.	Be level and slow before the circuit; go out and come in again if it is not right.	common practice	1	{}
19	late-turn	18	Late turn to final	f	Watching the runway come instead of the wind.	Begin the turn earlier by the drift; if it is overshot, go around rather than steepen.	common practice	1	{final.distance.over}
20	early-turn	19	Early turn to final	f	Afraid to go too far out.	Hold on until the point is where it belongs behind the wing.	common practice	1	{final.distance.under}
21	steep-turn-low	20	Steep turn, low	t	Trying to save an overshot turn to final with bank.	Level the wings and go around: the approach can be flown again.	common practice	1	{turn.bank.over}
22	skidding-turn	21	Skidding turn	t	Rudder used to hurry the nose round.	Bank and rudder together; look at the ball before the speed.	common practice	1	{}
23	final-slow	22	Too slow on final	t	Attitude not set again after power or flap was changed; needle not read.	Power first, then the nose; slow and low together, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{final.speed.under,turn.speed.under}
24	stretched	23	Glide stretched	t	Nose raised to reach the point, without power.	Pitch alone shortens the glide. Add power at once, or go around; with no engine, take the nearer place.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
25	final-fast	24	Fast on final	f	Nose down without less power, or power left on.	Attitude for the speed, power for the path; trim.	common practice	1	{final.speed.over,turn.speed.over,base.speed.over}
26	final-high	25	High on final	f	Power back late, or the turn begun early.	Less power, flap, slip if the type allows; go around if it stays steep.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{final.height.over,turn.height.over,base.height.over}
27	final-low	26	Low on final	f	Power back early, or the wind not seen.	Power at once and level until back on the path; leave the flap where it is. In doubt, go around.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{final.height.under,turn.height.under,base.height.under}
28	drift-final	27	Drift on final	f	Wind not allowed for after the turn.	Set the wing or the heading early and keep it.	common practice	1	{}
29	no-trim	28	Out of trim	f	Holding the load by arm.	Trim at every change of power or flap.	common practice	1	{}
30	no-go-around	29	No go-around	t	Not settled, and pressed on in the hope of a good landing.	If it is not right once established on final, go around. Nobody marks a go-around down.	common practice	1	{}
31	round-out-high	30	Round-out high	f	Eyes too near, or the runway looks narrow.	Look at the far end; hold what you have, let it settle, power if it sinks; in doubt, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{round-out.height.over}
32	round-out-low	31	Round-out low	f	Eyes too far, or waiting for the ground.	Begin at its height, slowly, and look ahead; if it is late, power before it drops, never a snatch.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{round-out.height.under}
33	ballooned	32	Ballooned	f	Stick back too fast.	Hold the attitude, cushion with power if small; go around if large.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
34	bounced	33	Bounced	f	Touched too fast or nose too low.	Hold the landing attitude, a little power, land again; go around if it is high.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
35	bounce-chased	34	Bounce chased	t	Stick pushed after the bounce.	Never push: full power and go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
36	floated	35	Floated	f	Too fast over the threshold.	Hold it level and wait; past the touchdown zone, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{touchdown.distance.over}
37	drifted	36	Drift at touchdown	f	Wing let up in the flare.	Keep the wing down into wind and the nose along the runway until it stops.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{}
38	touchdown-attitude	37	Wrong attitude	f	Let down before it was done flying, or the stick eased at the last moment.	Keep the stick coming back until the wheels touch of their own accord.	common practice	1	{}
39	landed-short	38	Landed short	t	Path too low and stretched.	Aim past the point; power early; go around when in doubt.	common practice	1	{touchdown.distance.under}
40	swerved	39	Swerved in the roll	f	Feet stopped when the wheels touched.	The flight ends when it stands still: keep the feet alive.	common practice	1	{}
41	ground-loop	40	Ground loop	t	A swerve not met in time.	Small early rudder; brake only with care, on the side that helps. Have the aeroplane inspected.	Airplane Flying Handbook (FAA-H-8083-3), Approaches and Landings	1	{}
42	heavy-braking	41	Heavy braking	t	Stopping by brake instead of by plan; with a tailwheel it can tip on the nose.	Stick back, let it slow, brake gently when straight.	common practice	1	{}
43	slip-slow	42	Slow in the slip	t	Nose held up with the controls crossed; the needle may lie in a slip.	Nose to the attitude of the glide, then slip; straighten at the first buffet or warning.	common practice	1	{}
44	aileron-let-go	43	Aileron let go	f	Hands centred once the wheels roll.	As speed comes, less aileron; as speed goes, more, to the stop.	common practice	1	{}
45	late-decision	44	Late decision	t	Hoping it would come right.	Decide when established on final; in doubt, go.	common practice	1	{}
46	flap-too-soon	45	Flap up too soon	t	All of it raised at once, low.	Power, attitude, then flap in steps.	common practice	1	{}
47	swing-go-around	46	Swing not held	f	Full power without the feet.	Feet with the throttle, as in a takeoff.	common practice	1	{}
48	nose-high-go-around	47	Nose too high	t	Trim for the approach lifts the nose when power comes, and it is not held.	Push to the climb attitude and hold; trim at once; read the speed.	common practice	1	{}
49	nose-not-lowered	48	Nose not lowered	t	Surprise.	Say “nose” and push before anything else.	common practice	1	{}
50	turned-back	49	Turned back	t	The runway is behind and pulls.	Land ahead. Below the height the school names, never turn back.	common practice	1	{}
51	field-out-of-reach	50	Place out of reach	f	The best field was chosen instead of the nearest good one.	Look down and near first; choose once, change only for a reason.	common practice	1	{}
52	late-recovery	51	Recovered late	f	Waiting for the break.	Recover at the first sign, unless the full stall was briefed.	common practice	1	{}
53	second-stall	52	Second stall	t	Pulled out before there was speed to pull with.	Stick forward until it flies, then ease out; wait for the speed.	common practice	1	{}
54	aileron-in-stall	53	Aileron in the stall	t	Lifting the wing by hand.	Stick forward first, rudder to stop the yaw, then level.	common practice	1	{}
55	fast-taxi	54	Taxied fast	f	Time pressure.	Walking pace; throttle shut before brake.	common practice	1	{}
56	taxi-blind	55	Did not weave	t	Trusting that nothing is behind the nose.	Weave, and stop when you cannot see; ask for a marshal.	common practice	1	{}
57	nose-over-risk	56	Power against brake	t	Brake and throttle used together with the stick forward: it can tip on the nose.	Throttle shut, stick back, brakes released, then move off gently.	common practice	1	{}
58	taxi-wind	57	Stick wrong for wind	f	Wind forgotten after a turn.	Say where the wind is at each turn; dive away from it, climb into it.	common practice	1	{}
\.

COPY lessons_fault_manoeuvres (id, fault_id, manoeuvre_id) FROM stdin;
1	1	15
2	2	15
3	3	15
4	4	18
5	4	15
6	5	18
7	5	15
8	6	15
9	7	15
10	8	15
11	9	15
12	10	15
13	11	15
14	12	15
15	13	12
16	13	13
17	13	14
18	14	14
19	15	13
20	15	14
21	16	14
22	17	14
23	18	13
24	19	16
25	20	16
26	21	16
27	22	16
28	23	16
29	23	21
30	24	16
31	24	27
32	25	16
33	26	16
34	27	16
35	27	21
36	28	16
37	28	19
38	29	16
39	29	14
40	30	16
41	31	17
42	32	17
43	33	17
44	34	17
45	34	20
46	35	17
47	35	20
48	36	17
49	36	21
50	37	17
51	37	19
52	37	20
53	38	17
54	39	17
55	40	17
56	40	19
57	41	17
58	41	19
59	42	17
60	43	22
61	44	18
62	44	19
63	45	23
64	46	23
65	47	23
66	48	23
67	49	25
68	49	27
69	50	25
70	51	26
71	51	27
72	52	10
73	53	10
74	54	10
75	55	2
76	56	2
77	57	2
78	58	2
\.

COPY lessons_gate (id, code, name, phase, "order", configuration, "where", along_ft, gate_set_id, leg) FROM stdin;
1	lift-off	The lift-off	takeoff	1	takeoff power, takeoff flap, tail just up	as it flies off	0	1	upwind
2	wheels-up	Wheels up	takeoff	2	climbing, wheels braked	when no runway is left to land on	1400	1	upwind
3	flap-up	Flap up	takeoff	3	wheels up, speed rising	straight ahead, wings level	2700	1	upwind
4	climb	The climb	takeoff	4	climb power, wheels and flap up	past the runway end	3500	1	upwind
5	first-turn	The first turn	takeoff	5	after-takeoff checks done	beyond the runway end, within 300 ft of circuit height	7500	1	upwind
6	join	Joining	circuit	6	level, clean	shallow angle to the downwind leg	12800	1	downwind
7	downwind	Downwind	circuit	7	wheels down and seen locked	abeam the middle of the runway	15300	1	downwind
8	flap	First flap	circuit	8	first flap, trimmed	when settled on the let-down	17800	1	downwind
9	abeam	Abeam the point	circuit	9	wheels locked, first flap	abeam the touchdown point	19900	1	downwind
10	power-back	Power back	approach	10	power back, propeller to fine pitch	where the gliding turn begins	21500	1	downwind
11	turn	The gliding turn	approach	11	power back, landing flap	half way round	23550	1	base
12	final	Final	approach	12	all set, wings level	1,600 ft before the aiming point	25600	1	final
13	round-out	The round-out	landing	13	throttle closing	100 ft before the aiming point	27100	1	final
14	touchdown	The touchdown	landing	14	three wheels	in the touchdown zone, measured from the aiming point	27200	1	final
\.

COPY lessons_gateset (id, issue, valid_from, aircraft_type_id, published, shape) FROM stdin;
1	1	2025-01-01	1	t	oval
\.

COPY lessons_gatetarget (id, quantity, value, over, under, unit, wind_rule, gate_id) FROM stdin;
1	speed	64.0	5.0	4.0	kt	none	1
2	height	120.0	80.0	20.0	ft	none	2
3	height	240.0	60.0	40.0	ft	none	3
4	speed	85.0	10.0	5.0	kt	none	4
5	height	650.0	100.0	50.0	ft	none	5
6	height	900.0	100.0	100.0	ft	none	6
7	speed	105.0	10.0	10.0	kt	none	6
8	height	900.0	100.0	100.0	ft	none	7
9	speed	98.0	10.0	10.0	kt	none	7
10	height	840.0	100.0	100.0	ft	none	8
11	speed	92.0	10.0	10.0	kt	none	8
12	height	700.0	100.0	100.0	ft	none	9
13	speed	88.0	10.0	10.0	kt	none	9
14	height	570.0	80.0	60.0	ft	none	10
15	speed	82.0	10.0	5.0	kt	none	10
16	height	380.0	60.0	40.0	ft	none	11
17	speed	76.0	10.0	5.0	kt	half_gust	11
18	bank	22.0	8.0	10.0	deg	none	11
19	height	180.0	40.0	30.0	ft	none	12
20	speed	68.0	10.0	5.0	kt	half_gust	12
21	distance	1600.0	200.0	200.0	ft	none	12
22	height	25.0	10.0	10.0	ft	none	13
23	distance	0.0	400.0	0.0	ft	none	14
\.

COPY lessons_gradescale (id, code, issue, title, rule, solo, steps) FROM stdin;
1	five-steps	1	Five numbered steps	last_two	4	[{"code": "1", "label": "1", "level": "describe", "meaning": "not done, or not safe without the instructor"}, {"code": "2", "label": "2", "level": "explain", "meaning": "done with help on the controls"}, {"code": "3", "label": "3", "level": "practice", "meaning": "done with a word from the instructor"}, {"code": "4", "label": "4", "level": "perform", "meaning": "done alone, inside the tolerances"}, {"code": "5", "label": "5", "level": "perform", "meaning": "done alone, exact, with time to spare"}]
2	learner-centred	1	Learner-centred grades	last_two	perform	[{"code": "describe", "label": "Describe", "level": "describe", "meaning": "can describe it, needs help to do it"}, {"code": "explain", "label": "Explain", "level": "explain", "meaning": "understands it, still needs help to carry it out"}, {"code": "practice", "label": "Practice", "level": "practice", "meaning": "carries it out, deviations corrected with coaching"}, {"code": "perform", "label": "Perform", "level": "perform", "meaning": "carries it out without help, to standard"}]
3	weakest-element	1	Four steps, marked by the weakest element	weakest	sound	[{"code": "unsafe", "label": "Unsafe", "level": "describe", "meaning": "would have been dangerous without the instructor"}, {"code": "uneven", "label": "Uneven", "level": "practice", "meaning": "safe with help, some elements not there yet"}, {"code": "sound", "label": "Sound", "level": "perform", "meaning": "every element there, alone"}, {"code": "fine", "label": "Fine", "level": "perform", "meaning": "every element there, alone, with grace"}]
\.

COPY lessons_lesson (id, uid, number, version, correction_reason, "on", off_blocks, on_blocks, dual_minutes, solo_minutes, night_minutes, instrument_minutes, ground_minutes, takeoffs, landings, wind_direction, wind_speed_kt, wind_gust_kt, remarks, next_time, begun_at, signed_at, aircraft_id, begun_by_id, enrolment_id, instructor_id, runway_id, signed_by_id, supersedes_id, unit_id, weather_report, wind_reference, outside_release) FROM stdin;
1	49121f42-e725-47e4-890d-c6a3f5feeb0b	1	1		2026-06-08	\N	\N	60	0	0	0	0	2	2	\N	\N	\N			2026-06-08 09:00:00+00	2026-06-08 11:00:00+00	1	2	1	2	1	2	\N	8		magnetic	
2	a2158d51-a0c3-484d-bc85-a9353229e9c2	2	1		2026-06-10	\N	\N	60	0	0	0	0	2	2	\N	\N	\N			2026-06-10 09:00:00+00	2026-06-10 11:00:00+00	1	2	1	2	1	2	\N	8		magnetic	
\.

COPY lessons_manoeuvre (id, code, "order", title, phase, items, reference, syllabus_id, tailwheel_only) FROM stdin;
1	flight_preparation	0	Flight preparation	ground	{61.87(d)(1)}		1	f
2	taxiing	1	Taxiing	ground	{61.87(d)(2)}		1	f
3	lookout	2	Look-out and hazards	upper_air	{61.87(d)(7)}		1	f
4	effects_of_controls	3	Effects of controls	upper_air	{}		1	f
5	straight_and_level	4	Straight and level	upper_air	{61.87(d)(4)}		1	f
6	climbing	5	Climbing	climb	{61.87(d)(5)}		1	f
7	descending	6	Descending	upper_air	{61.87(d)(8)}		1	f
8	turning	7	Turning	upper_air	{61.87(d)(4)}		1	f
9	slow_flight	8	Slow flight	upper_air	{61.87(d)(9)}	FAA-S-ACS-6C PA.VII.A	1	f
10	stalls	9	Stalls	upper_air	{61.87(d)(10)}	FAA-S-ACS-6C PA.VII.B and C	1	f
11	ground_reference	10	Ground reference	upper_air	{61.87(d)(12)}	FAA-S-ACS-6C PA.V.B	1	f
12	departure	11	Leaving the circuit	climb	{61.87(d)(6)}		1	f
13	joining	12	Joining the circuit	joining	{61.87(d)(6)}		1	f
14	circuit	13	Circuit	circuit	{61.87(d)(6)}	FAA-S-ACS-6C PA.III.B	1	f
15	takeoff	14	Takeoff	takeoff	{61.87(d)(3)}	FAA-S-ACS-6C PA.IV.A	1	f
16	approach	15	Approach	approach	{61.87(d)(8)}	FAA-S-ACS-6C PA.IV.B	1	f
17	landing	16	Landing	landing	{61.87(d)(3)}	FAA-S-ACS-6C PA.IV.B	1	f
18	crosswind_takeoff	17	Crosswind takeoff	takeoff	{61.87(d)(3)}		1	f
19	crosswind_landing	18	Crosswind landing	landing	{61.87(d)(3)}		1	f
20	wheel_landing	19	Wheel landing (tailwheel)	landing	{61.87(d)(3)}	14 CFR 61.31(i)(1)(ii)	1	t
21	flapless_approach	20	Flapless approach	approach	{61.87(d)(8)}		1	f
22	slip	21	Slip to a landing	approach	{61.87(d)(14)}	FAA-S-ACS-6C PA.IV.M	1	f
23	go_around	22	Go-around	go_around	{61.87(d)(15)}	FAA-S-ACS-6C PA.IV.N	1	f
24	rejected_takeoff	23	Stopping a takeoff	emergencies	{61.87(d)(11)}		1	f
25	engine_failure_after_takeoff	24	Engine failure after takeoff	emergencies	{61.87(d)(11)}		1	f
26	circuit_emergencies	25	Circuit emergencies	emergencies	{61.87(d)(11),61.87(d)(13)}		1	f
27	simulated_engine_failure_approach	26	Approach, engine failure simulated	emergencies	{61.87(d)(13)}	FAA-S-ACS-6C PA.IX.B	1	f
28	malfunctions	27	Equipment malfunctions	emergencies	{61.87(d)(11)}		1	f
29	radio	28	Radio in the circuit	circuit	{}		1	f
\.

COPY lessons_stage (id, number, title, syllabus_id) FROM stdin;
1	1	Handling	1
2	2	Circuits	1
3	3	Solo	1
\.

COPY lessons_syllabus (id, code, issue, title, rule, published_on, scale_id) FROM stdin;
1	first-solo	1	To first solo	14 CFR 61.87(d), in the broad order of AMC1 FCL.210 exercises 1 to 14	2025-11-23	2
\.

COPY lessons_trainingitem (id, code, "order", text, syllabus_id) FROM stdin;
1	61.87(d)(1)	0	Flight preparation: planning, systems, handling the engine	1
2	61.87(d)(2)	1	Taxiing and surface operations, run-ups included	1
3	61.87(d)(3)	2	Takeoffs and landings, normal and crosswind	1
4	61.87(d)(4)	3	Straight and level flight; turns both ways	1
5	61.87(d)(5)	4	Climbs and climbing turns	1
6	61.87(d)(6)	5	Circuits, with entry and departure	1
7	61.87(d)(7)	6	Avoiding collision, windshear and wake turbulence	1
8	61.87(d)(8)	7	Descents, straight and turning, high and low drag	1
9	61.87(d)(9)	8	Speeds from cruise to slow flight	1
10	61.87(d)(10)	9	Stalls: entry from various attitudes and powers; recovery at the first sign and from a full stall	1
11	61.87(d)(11)	10	Emergency procedures and equipment malfunctions	1
12	61.87(d)(12)	11	Ground reference manoeuvres	1
13	61.87(d)(13)	12	Approaches to a landing area with the engine failure simulated	1
14	61.87(d)(14)	13	Slips to a landing	1
15	61.87(d)(15)	14	Go-arounds	1
\.

COPY lessons_unit (id, number, title, kind, aim, brief, exercises, flies_circuits, ending, stage_id) FROM stdin;
1	1	The aeroplane and the aerodrome	ground	Know the aeroplane, its papers and the way to the runway.	Walk round together: papers, fuel, oil, loose articles, controls. Say the parts and what each does. Threat: the propeller, treated as live at all times.	1, 2	f	full_stop	1
2	2	First flight and controls	dual	Feel each control and trim; taxi out and back.	Attitude against the horizon, small pressures, trim off what the hand holds. Who has control is said aloud, always. Threat: each believes the other is flying.	3, 4, 5	f	full_stop	1
3	3	Straight, level, climbing, descending	dual	Hold height, heading and speed by attitude and trim.	Attitude, power, trim; power, attitude, trim. Read engine temperatures in the climb and in the glide. Threat: traffic hidden under the nose; weave in the climb.	6, 7, 8	f	full_stop	1
4	4	Turning	dual	Turn in balance both ways, level, climbing and descending.	Look, roll, hold, look. Agree the bank for today and the least height for turns. Threat: the nose drops while the eyes are inside.	9	f	full_stop	1
5	5	Slow flight	dual	Fly slowly under control and return to cruise.	Room below and a clearing turn first; at least 1,500 ft above the ground. Feel what the controls say before the warning does. Threat: slow with power on, the rudder is needed.	10a	f	full_stop	1
6	6	Stalls	dual	Know the first sign and recover at it, and from the full stall.	Height to recover at least 1,500 ft above the ground, clear below, loose articles stowed. Stick forward comes first, whatever the attitude. Threat: wing dropped with aileron, or a second stall on the pull-out.	10b, 11	f	full_stop	1
7	7	Ground reference and slips	dual	Allow for wind over the ground; lose height by slipping.	Take the wind from smoke and water, and plan the bank before the point. Slip only as the type’s handbook allows. Threat: low, slow and looking at the ground in a turn.	9	f	full_stop	1
8	8	First circuits	dual	Know the path, the gates and the checks.	Draw the circuit with its gates, and say the height and speed at each. The instructor lands until told otherwise. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel. Threat: everybody else is in the same place.	12, 13	t	full_stop	2
9	9	Takeoff and climb out	dual	Keep it straight; leave the ground in the right attitude.	Feet alive, eyes far. Expect the swing and know why it comes. Say the engine-failure plan and the stopping place before each takeoff. Threat: swing late in the run, when the tail comes up.	12	t	full_stop	2
10	10	Approach to final	dual	Reach final at its speed and height.	Where power comes back, and where the turn begins in this wind. Never steepen to reach final; if it is lost, go around. Threat: slow and skidding in the turn to final. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel.	13	t	full_stop	2
11	11	Round-out and landing	dual	Round out at its height, hold off, roll straight to a stop.	Eyes to the far end, and wait. What to do after a balloon and after a bounce, said before the first circuit. Threat: pushing after a bounce. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel.	13	t	full_stop	2
12	12	Crosswind	dual	Take off and land with wind across.	Work out the crosswind for the runway; the type’s demonstrated value and the school’s limit are both named. Wing down until it stops. A wheel landing is for a tailwheel type only, and not where its maker advises against it. Threat: a swing at the end of the roll, when the rudder fades.	13	t	full_stop	2
13	13	Go-around and emergencies	dual	Decide early; land ahead; glide in from any leg.	Every simulated failure is announced as one before the throttle moves, and broken off at an agreed height. Below which height never turn back. Whoever first thinks of a go-around calls it. Threat: a practice failure becomes a real one.	12E, 13E	t	full_stop	2
14	14	Circuits to standard	dual	Fly every part to standard without help, twice over.	The instructor is silent and counts. Numbers at the gates are noted. Threat: pressing on for the sake of the count.	13	t	full_stop	2
15	15	Rules and the pre-solo test	ground	Know the rules, the aerodrome and the type well enough to be alone.	A test in three topics: rules, this aerodrome and its airspace, this type. Every wrong answer is talked through before any release. Threat: an answer learnt by heart and not understood.	2	f	full_stop	2
16	16	Check before first solo	stage_check	A second instructor sees the circuit flown to standard.	The checking instructor helps with nothing that the student could do alone, and steps in for safety only. A different voice, so say which words you use for taking control. Threat: a student flying to please.	13	t	full_stop	3
17	17	First solo	solo	One circuit alone, then three.	Only within a release in force and its limits, seen by the instructor from the ground. The aeroplane is lighter: it leaves the ground sooner and floats longer. Go around at the first doubt. Threat: one good landing, then relief.	14	t	full_stop	3
18	18	Solo consolidation	solo	Circuits alone after a dual check on the day.	Dual first, every time, on the day. The student says the limits aloud before going. Threat: wind that changes while the student is out.	14	t	full_stop	3
\.

COPY lessons_unitmanoeuvre (id, "order", expected, compulsory, manoeuvre_id, unit_id) FROM stdin;
1	0	describe	t	1	1
2	0	explain	f	1	2
3	1	practice	t	2	2
4	2	practice	t	4	2
5	3	explain	f	3	2
6	0	practice	t	5	3
7	1	practice	t	6	3
8	2	practice	t	7	3
9	3	practice	f	3	3
10	0	practice	t	8	4
11	1	practice	f	3	4
12	2	practice	f	6	4
13	3	practice	f	2	4
14	0	practice	t	9	5
15	1	perform	f	5	5
16	2	practice	f	3	5
17	0	practice	t	10	6
18	1	practice	f	9	6
19	2	practice	f	3	6
20	0	practice	t	11	7
21	1	practice	f	22	7
22	2	practice	f	7	7
23	3	practice	f	3	7
24	0	practice	t	15	8
25	1	explain	f	14	8
26	2	explain	t	16	8
27	3	explain	t	17	8
28	4	explain	f	23	8
29	5	practice	f	3	8
30	6	explain	f	29	8
31	7	explain	f	13	8
32	8	explain	f	12	8
33	0	practice	t	15	9
34	1	practice	f	14	9
35	2	practice	t	16	9
36	3	explain	t	17	9
37	4	practice	f	23	9
38	5	practice	f	3	9
39	6	practice	f	29	9
40	7	explain	t	25	9
41	0	practice	t	15	10
42	1	practice	f	14	10
43	2	practice	t	16	10
44	3	practice	t	17	10
45	4	practice	f	23	10
46	5	practice	f	3	10
47	6	practice	f	29	10
48	7	practice	f	13	10
49	8	practice	f	22	10
50	9	practice	f	12	10
51	0	practice	t	15	11
52	1	practice	f	14	11
53	2	practice	t	16	11
54	3	practice	t	17	11
55	4	practice	f	23	11
56	5	practice	f	3	11
57	6	practice	f	29	11
58	7	explain	f	19	11
59	8	explain	f	20	11
60	0	practice	t	15	12
61	1	practice	f	14	12
62	2	practice	t	16	12
63	3	practice	t	17	12
64	4	practice	f	23	12
65	5	practice	f	3	12
66	6	practice	f	29	12
67	7	practice	t	18	12
68	8	practice	t	19	12
69	9	practice	f	20	12
70	0	practice	t	15	13
71	1	practice	f	14	13
72	2	practice	t	16	13
73	3	practice	t	17	13
74	4	perform	f	23	13
75	5	practice	f	3	13
76	6	practice	f	29	13
77	7	practice	t	25	13
78	8	practice	t	26	13
79	9	practice	t	27	13
80	10	practice	f	24	13
81	11	practice	f	28	13
82	12	practice	f	21	13
83	0	perform	t	15	14
84	1	perform	f	14	14
85	2	perform	t	16	14
86	3	perform	t	17	14
87	4	perform	f	23	14
88	5	perform	f	3	14
89	6	perform	f	29	14
90	7	perform	f	25	14
91	8	perform	f	26	14
92	0	perform	t	1	15
93	0	perform	t	15	16
94	1	perform	f	14	16
95	2	perform	t	16	16
96	3	perform	t	17	16
97	4	perform	f	23	16
98	5	perform	f	3	16
99	6	perform	f	29	16
100	7	perform	t	25	16
101	0	perform	f	15	17
102	1	perform	f	16	17
103	2	perform	f	17	17
104	0	perform	f	15	18
105	1	perform	f	16	18
106	2	perform	f	17	18
107	3	perform	f	23	18
\.

COPY school_aerodrome (id, ident, name, elevation_ft, circuit_height_ft, variation_deg) FROM stdin;
1	ZZZX	Test Field	10	1000	0.0
\.

COPY school_aircraft (id, registration, in_service, type_id) FROM stdin;
1	QQ-XXA	t	1
\.

COPY school_aircrafttype (id, code, name, tailwheel, retractable, constant_speed_propeller, stall_landing_kt, stall_clean_kt, demonstrated_crosswind_kt) FROM stdin;
1	sandling-2	Sandling 2	t	t	t	52	58	12
\.

COPY school_journalentry (id, at, person_id, person_name, what, subject_kind, subject_id, subject_label, before, after, about_id) FROM stdin;
1	2025-11-23 00:00:00+00	\N	the system	person added	school.person	1	Amelia Example	\N	{"born": null, "name": "Amelia Example", "roles": ["chief", "instructor"], "reference": "T-1"}	1
2	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	1	flight instructor certificate of Amelia Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-1", "expires": null}	1
3	2025-11-23 00:00:00+00	\N	the system	person added	school.person	2	Bert Example	\N	{"born": null, "name": "Bert Example", "roles": ["instructor"], "reference": "T-2"}	2
4	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	2	flight instructor certificate of Bert Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-2", "expires": null}	2
5	2025-11-23 00:00:00+00	\N	the system	person added	school.person	3	Cleo Example	\N	{"born": null, "name": "Cleo Example", "roles": ["instructor"], "reference": "T-3"}	3
6	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	3	flight instructor certificate of Cleo Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-3", "expires": null}	3
7	2025-11-23 00:00:00+00	\N	the system	person added	school.person	4	Dora Example	\N	{"born": "2000-05-05", "name": "Dora Example", "roles": ["student"], "reference": "T-4"}	4
8	2025-11-23 00:00:00+00	\N	the system	person added	school.person	5	Emil Example	\N	{"born": "2001-06-06", "name": "Emil Example", "roles": ["student"], "reference": "T-5"}	5
9	2025-11-23 00:00:00+00	\N	the system	person added	school.person	6	Frida Example	\N	{"born": null, "name": "Frida Example", "roles": ["admin"], "reference": "T-6"}	6
10	2025-11-23 00:00:00+00	6	Frida Example	enrolled	lessons.enrolment	1	Dora Example, To first solo, issue 1	\N	{"on": "2025-11-23", "type": "Sandling 2", "syllabus": "To first solo, issue 1", "instructor": "Bert Example"}	4
11	2025-11-23 00:00:00+00	6	Frida Example	enrolled	lessons.enrolment	2	Emil Example, To first solo, issue 1	\N	{"on": "2025-11-23", "type": "Sandling 2", "syllabus": "To first solo, issue 1", "instructor": "Bert Example"}	5
12	2026-06-08 09:00:00+00	2	Bert Example	lesson begun	lessons.lesson	1	Lesson 1 of Dora Example	\N	{"on": "2026-06-08", "unit": "Unit 8: First circuits"}	4
13	2026-06-08 11:00:00+00	2	Bert Example	lesson signed	lessons.lesson	1	Lesson 1 of Dora Example	\N	{"meaning": "I gave this training on this day, and what is recorded here is what I saw."}	4
14	2026-06-10 09:00:00+00	2	Bert Example	lesson begun	lessons.lesson	2	Lesson 2 of Dora Example	\N	{"on": "2026-06-10", "unit": "Unit 8: First circuits"}	4
15	2026-06-10 11:00:00+00	2	Bert Example	lesson signed	lessons.lesson	2	Lesson 2 of Dora Example	\N	{"meaning": "I gave this training on this day, and what is recorded here is what I saw."}	4
\.

COPY school_paper (id, kind, number, medical_class, issued, expires, recent_experience_until, recorded_at, voided_at, void_reason, person_id, recorded_by_id, voided_by_id) FROM stdin;
1	instructor_certificate	C-1		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		1	1	\N
2	instructor_certificate	C-2		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		2	2	\N
3	instructor_certificate	C-3		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		3	3	\N
\.

COPY school_person (id, password, last_login, username, email, given_name, family_name, reference, born, roles, is_active) FROM stdin;
1	argon2$argon2id$v=19$m=102400,t=2,p=8$MmZ5bTZoQ1I4Zko3S1k2SlY1bTZDMA$TiWgasUsWXCeGEWfDdM4euRo4kDg3SX80Wne7OVIHTg	\N	amelia		Amelia	Example	T-1	\N	{chief,instructor}	t
2	argon2$argon2id$v=19$m=102400,t=2,p=8$ODZVdVRraFVTbW9ncXE3NXZ3Q1RoRQ$mGZv33qlNW0LiVB4wNM+HM9SQIwxtM6gsV+/RVPiUcU	\N	bert		Bert	Example	T-2	\N	{instructor}	t
3	argon2$argon2id$v=19$m=102400,t=2,p=8$aE9ocmxaNkx5RDZ1Mm1ycmE2NmFtUg$ldzxec4TWV+TMn6PdFGZLHQfyL53yeW+6/WYHkCXqLk	\N	cleo		Cleo	Example	T-3	\N	{instructor}	t
4	argon2$argon2id$v=19$m=102400,t=2,p=8$NlBOREdwTlVOVlNNNkNZWVRnM1hrSw$Yaegiw0EN8JmALRhL/M4OiBRAtk7ZKmMyg4iYEec7MU	\N	dora		Dora	Example	T-4	2000-05-05	{student}	t
5	argon2$argon2id$v=19$m=102400,t=2,p=8$Vkl1eTZjaEJ5eDBrWHRvU0RwSEluTw$e1FXqcwpcLCTKmtX2r2/e25VPZXLh9HHepjzMK4jD6I	\N	emil		Emil	Example	T-5	2001-06-06	{student}	t
6	argon2$argon2id$v=19$m=102400,t=2,p=8$Y05VY2RqZFpQbmxnRXFzMmN5RnV0bA$1UYa0U0W80jMMc3kOigk967j9K7zArCg0a174pPVv/Q	\N	frida		Frida	Example	T-6	\N	{admin}	t
\.

COPY school_runway (id, designator, heading_magnetic, length_ft, circuit, aerodrome_id) FROM stdin;
1	18	180	3000	left	1
\.

COPY school_school (id, name, rule_set, paper, retention_years, aerodrome_id, length_unit, speed_unit, chief_countersigns) FROM stdin;
1	School of the Tests	us	A4	5	1	ft	kt	t
\.

SELECT setval('grading_attempt_id_seq', 12, true);
SELECT setval('grading_grade_id_seq', 6, true);
SELECT setval('grading_signature_id_seq', 2, true);
SELECT setval('grading_standard_id_seq', 2, true);
SELECT setval('grading_tap_id_seq', 18, true);
SELECT setval('lessons_circuit_id_seq', 4, true);
SELECT setval('lessons_criterion_id_seq', 114, true);
SELECT setval('lessons_enrolment_id_seq', 2, true);
SELECT setval('lessons_fault_id_seq', 58, true);
SELECT setval('lessons_fault_manoeuvres_id_seq', 78, true);
SELECT setval('lessons_gate_id_seq', 14, true);
SELECT setval('lessons_gateset_id_seq', 1, true);
SELECT setval('lessons_gatetarget_id_seq', 23, true);
SELECT setval('lessons_gradescale_id_seq', 3, true);
SELECT setval('lessons_lesson_id_seq', 2, true);
SELECT setval('lessons_manoeuvre_id_seq', 29, true);
SELECT setval('lessons_stage_id_seq', 3, true);
SELECT setval('lessons_syllabus_id_seq', 1, true);
SELECT setval('lessons_trainingitem_id_seq', 15, true);
SELECT setval('lessons_unit_id_seq', 18, true);
SELECT setval('lessons_unitmanoeuvre_id_seq', 107, true);
SELECT setval('school_aerodrome_id_seq', 1, true);
SELECT setval('school_aircraft_id_seq', 1, true);
SELECT setval('school_aircrafttype_id_seq', 1, true);
SELECT setval('school_journalentry_id_seq', 15, true);
SELECT setval('school_paper_id_seq', 3, true);
SELECT setval('school_person_id_seq', 6, true);
SELECT setval('school_runway_id_seq', 1, true);
