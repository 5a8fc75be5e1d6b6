package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Tables as other people make them, with all guesses taken: what they say, worked out by hand beside each, or the
// fault. None may give a silent wrong answer.
func TestHostileTables(t *testing.T) {
	head := "Site,Year,Treatment,Yield (gal),n,SD\n"
	for _, c := range []struct{ name, text, want string }{
		{"titles, a winter of two years, stars, a total and a footnote",
			"Trials of sanitation;;;;;\nnot for print;;;;;\n" +
				"Site;Season;Treatment;Sap (gal/tap);SD;Reps\nNorth;2019/20;Control;18,5;2,1;6\n" +
				"North;2019/20;Check valve;22,4*;2,4;6\nTotal;;;40,9;;12\n* a chamber left out;;;;;\n",
			"North 2020/North/2020/unsanitized/18.5/2.1/6gal North 2020/North/2020/check-valve/22.4/2.4/6gal"},
		{"a unit with a day that is not known, and nothing left of a practice",
			"Site,Year,Tree,Treatment,Date,Sap (L/tap)\nN,2019,1,Control,2019-03-01,10\n" +
				"N,2019,1,Control,2019-03-08,\nN,2019,2,CV,2019-03-01,12\nN,2019,2,CV,2019-03-08,14\n",
			"has no reference"},
		{"the control has nothing but words", "Site,Year,Treatment,Gain (%),Remarks\nN,2019,Control,—,(reference)\n" +
			"N,2019,CV,38,\n", "N 2019/N/2019/unsanitized/// N 2019/N/2019/check-valve/38%/../se "},
		{"two header rows", "Site,Year,Control,,Check valve,,\n,,mean,SD,mean,SD,n\nNorth,2019,18.5,2.1,22.4,2.4,6\n",
			"North 2019/North/2019/unsanitized/18.5/2.1/ North 2019/North/2019/check-valve/22.4/2.4/6"},
		{"units in a row of their own",
			"Site,Year,Treatment,Yield,Vacuum,n\n,,,L/tap,kPa,\nNorth,2019,Control,70.1,80,6\n" +
				"North,2019,Check valve,84.2,80,6\n",
			"North 2019/North/2019/unsanitized/70.1//6l North 2019/North/2019/check-valve/84.2//6l"},
		{"footnote marks on numbers", head + "North,2019,Control,18.5¹,6,2\nNorth,2019,Check valve,22.4†,6,2\n",
			"North 2019/North/2019/unsanitized/18.5/2/6gal North 2019/North/2019/check-valve/22.4/2/6gal"},
		{"ranges for means", head + "North,2019,Control,24-76,6,2\nNorth,2019,Check valve,30-80,6,2\n",
			"is a range and no number"},
		{"about", head + "North,2019,Control,~15,6,2\nNorth,2019,Check valve,ca. 18,6,2\n",
			"North 2019/North/2019/unsanitized/15/2/6gal North 2019/North/2019/check-valve/18/2/6gal"},
		{"blank columns",
			"Site,,Year,Treatment,,Yield (gal),n,SD,,\nN,,2019,Control,,15,6,2,,\nN,,2019,Check valve,,18,6,2,,\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal"},
		{"a header that stands twice", "Site,Year,Treatment,Yield,Yield,n\nN,2019,Control,15,60,6\n", "stands twice"},
		{"means in the place of a practice", head + "N,2019,Control,15,6,2\nN,2019,Check valve,18,6,2\n" +
			"N,2019,Mean,16.5,12,2\nAll,2019,Average,16.5,12,2\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal"},
		{"names that hold for the rows below", head + "N,2019,Control,15,6,2\n,,Check valve,18,6,2\n,,Bleach,17,6,2\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal " +
				"N 2019/N/2019/chlorine-rinse/17/2/6gal"},
		{"practices in a column called for nothing",
			"Lieu;An;Colonne 3;L/ent;Nb\nN;2019;témoins;70,1;6\nN;2019;clapets;84,2;6\n",
			"N 2019/N/2019/unsanitized/70.1//6l N 2019/N/2019/check-valve/84.2//6l"},
		{"practices in words that nobody knows", "Lieu;An;Groupe;L/ent;Nb\nN;2019;A;70,1;6\nN;2019;B;84,2;6\n",
			`row 2, column Groupe: "A" is not known`},
		{"units below some headers, names above others, and a blank row between seasons",
			"Sap trials,,,,,,,\n,,,Sap,,Vacuum,Taps,,\n" +
				"Place,Yr,Treatment,(gal/tap),SD,(in Hg),per plot,Reps,Comments\n" +
				"H,2019,Old spouts (control),15.2,2.1,25,20,6,\nH,2019,Check valves,22.4,3.0,25,20,6,a leak\n" +
				",,,,,,,,\nH,2020,Old spouts (control),14.0,1.9,25,20,6,\nH,2020,Check valves,19.9,2.5,25,20,6,\n",
			"H 2019/H/2019/unsanitized/15.2/2.1/6gal H 2019/H/2019/check-valve/22.4/3/6gal " +
				"H 2020/H/2020/unsanitized/14/1.9/6gal H 2020/H/2020/check-valve/19.9/2.5/6gal"},
		{"a column a practice, short names", "Site,Season,n,Control,New spout,CV spout\nN,2018,8,12.1,14.0,16.8\n",
			"N 2018/N/2018/unsanitized/12.1//8 N 2018/N/2018/new-spout/14//8 N 2018/N/2018/check-valve/16.8//8"},
		{"percent of the control", "Study,Location,Year,Treatment,% of control\nA,R,2016,Control,100%\n" +
			"A,R,2016,New spout,118%\n",
			"A/R/2016/unsanitized/0%/../se  A/R/2016/new-spout/18%/../se "},
		{"percent of the control in French", "Étude;Lieu;An;Traitement;Rendement (% du témoin)\n" +
			"A;R;2016;Clapets;141,5\n",
			"A/R/2016/unsanitized/// A/R/2016/check-valve/41.5%/../se "},
		{"ratios", "Study,Location,Year,Treatment,Ratio to control\nA,R,2016,New spout,1.18\n" +
			"A,R,2016,Check valve,1.38x\n",
			"A/R/2016/unsanitized/// A/R/2016/new-spout/18%/../se  A/R/2016/check-valve/38%/../se "},
		// sap of 2 °Bx weighs 1.0060 kg a litre at 20 °C (density of sucrose solutions, ICUMSA): 62.4 kg are 62.03 L,
		// 137.6 lb × 0.45359237 = 62.41 kg are 62.04 L
		{"kilograms", "Farm;Year;Treatment;Sap collected (kg/tap);Trees\nE;2021;none;62,4;24\n" +
			"E;2021;new spout;70,2;24\n",
			"E 2021/E/2021/unsanitized/62.0269//24l E 2021/E/2021/new-spout/69.7803//24l"},
		{"pounds", "Farm,Year,Treatment,Sap (lb),No. trees\nE,2021,Untreated,137.6,24\nE,2021,new spout,154.8,24\n",
			"E 2021/E/2021/unsanitized/62.0411//24l E 2021/E/2021/new-spout/69.7963//24l"},
		{"imperial gallons, a letter for the spread, spiles",
			"Bush,Spring of,Practice tried,Imp. gallons per tap,Reps,s\nL,2015,nothing,12.5,5,1.5\n" +
				"L,2015,new spiles,14.9,5,1.8\n",
			"L 2015/L/2015/unsanitized/12.5/1.5/5gal_imp L 2015/L/2015/new-spout/14.9/1.8/5gal_imp"},
		{"a table a site, each with its header", "Site: Beaver Lot,,,\n" +
			"Treatment,2019 mean (L/tap),SD,n\nControl,55.1,8,6\n" +
			"CV,74.3,9,6\n,,,\nSite: Otter Lot,,,\nTreatment,2019 mean (L/tap),SD,n\nControl,48.2,7,5\nCV,66,8,5\n",
			"no header stands for season"},
		{"a table a site and season, under one header", "Treatment,Mean (L/tap),SD,n\n" +
			"Beaver Lot 2019,,,\nControl,55.1,8,6\n" +
			"CV,74.3,9,6\nOtter Lot 2020,,,\nControl,48.2,7,5\nCV,66,8,5\n",
			"Beaver Lot 2019/Beaver Lot/2019/unsanitized/55.1/8/6l " +
				"Beaver Lot 2019/Beaver Lot/2019/check-valve/74.3/9/6l " +
				"Otter Lot 2020/Otter Lot/2020/unsanitized/48.2/7/5l " +
				"Otter Lot 2020/Otter Lot/2020/check-valve/66/8/5l"},
		{"a remark in the middle is no site", "Site,Year,Treatment,Yield (gal),n,SD\nN,2019,Control,15,6,2\n" +
			"frost in March,,,,,\nN,2019,CV,18,6,2\n", "fault"},
		{"a column a season, and their mean", "Site,Treatment,2019,2020,Mean\n" +
			"N,Control,14.2,15.1,14.65\nN,CV,19.8,21,20.4\n",
			"N 2019/N/2019/unsanitized/14.2// N 2019/N/2019/check-valve/19.8// N 2020/N/2020/unsanitized/15.1// " +
				"N 2020/N/2020/check-valve/21//"},
		// trees of one practice in one season are its units: 52 and 61 have the mean 56.5 and the sd 9/√2 = 6.36396
		{"a column a season, a row a tree", "Site,Tree,Treatment,2021 sap (L),2022 sap (L)\nN,1,Control,52,48\n" +
			"N,2,Control,61,55\nN,3,CV,66,58\nN,4,CV,70,64\n",
			"N 2021/N/2021/unsanitized/56.5/6.36396/2l N 2021/N/2021/check-valve/68/2.82843/2l " +
				"N 2022/N/2022/unsanitized/51.5/4.94975/2l N 2022/N/2022/check-valve/61/4.24264/2l"},
		{"gallons of a whole mainline", "Site,Mainline,Treatment,# taps,Gallons,Season\nN,A,control,150,2250,2023\n" +
			"N,B,CV,140,\"2,380\",2023\n", // 2250 / 150 = 15, 2380 / 140 = 17
			"N 2023/N/2023/unsanitized/15//gal N 2023/N/2023/check-valve/17//gal"},
		{"ages in words", "Site,Year,Treatment,Drop age (yrs),Sap (gal/tap),Trees\nE,2018,New drops,new,21,20\n" +
			"E,2018,Check,7 yrs,15.5,20\n", "E 2018/E/2018/new-drop/21//20gal E 2018/E/2018/unsanitized/15.5//20gal"},
		{"gains in words, ranges and with their p", "Site,Year,Practice,Increase\nS,2010,New spout,5-15%\n" +
			"S,2010,Check valve,+27% (p<0.01)\nS,2010,Bleach,about 10 %\nS,2010,Silver spout,12%\n",
			"S 2010/S/2010/unsanitized/// S 2010/S/2010/new-spout/// S 2010/S/2010/check-valve/27%/../se  " +
				"S 2010/S/2010/chlorine-rinse/10%/../se  S 2010/S/2010/silver-spout/12%/../se "},
		{"an arm that was lost",
			"Site,Year,Treatment,Yield (gal)\nN,2019,Control,15\nN,2019,CV,18\nN,2019,Bleach,n.d.\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal"},
		{"a practice that nobody knows beside others", "Site,Year,Control,CV,Elbow X\nN,2019,15.1,18,17.2\n",
			"column Elbow X: this may be a practice of its own"},
		{"new spouts + drops", "Site,Year,Control,New spouts + drops,CV\nN,2019,15.1,18,17.2\n",
			"N 2019/N/2019/unsanitized/15.1// N 2019/N/2019/new-drop/18// N 2019/N/2019/check-valve/17.2//"},
		{"no yield at all", "Site,Year,Treatment,Syrup (gal/tap),SD\nE,2020,Control,0.38,0.05\nE,2020,CV,0.44,0.05\n",
			"no header stands for sugar"},
		{"a treatment in three columns", "Site,Year,Spout,Drops,Rinse,Yield (gal/tap),n\n" +
			"N,2019,reused,old,none,15,6\n" +
			"N,2019,new,old,none,18,6\nN,2019,check valve,old,none,20,6\nN,2019,new,new,none,21,6\n" +
			"N,2019,reused,old,bleach,17,6\n",
			"N 2019/N/2019/unsanitized/15//6gal N 2019/N/2019/new-spout/18//6gal N 2019/N/2019/check-valve/20//6gal " +
				"N 2019/N/2019/new-drop/21//6gal N 2019/N/2019/chlorine-rinse/17//6gal"},
		{"a treatment in two columns, in French", "Lieu;An;Chalumeau;Lavage;L/ent;Nb\nN;2019;réutilisé;aucun;70,1;6\n" +
			"N;2019;neuf;aucun;80;6\nN;2019;réutilisé;eau de javel;75;6\nN;2019;antiretour;aucun;88;6\n",
			"N 2019/N/2019/unsanitized/70.1//6l N 2019/N/2019/new-spout/80//6l " +
				"N 2019/N/2019/chlorine-rinse/75//6l N 2019/N/2019/check-valve/88//6l"},
		{"a yes under what was done", "Site,Year,New spout,New drop,Bleach,Yield (gal/tap),n\nN,2019,,,,15,6\n" +
			"N,2019,X,,,18,6\nN,2019,X,X,,21,6\nN,2019,,,X,17,6\n",
			"N 2019/N/2019/unsanitized/15//6gal N 2019/N/2019/new-spout/18//6gal " +
				"N 2019/N/2019/new-drop/21//6gal N 2019/N/2019/chlorine-rinse/17//6gal"},
		{"a combination that is no practice yet", "Site,Year,Spout,Rinse,Yield (gal/tap)\nN,2019,used,none,15\n" +
			"N,2019,new,bleach,18\nN,2019,new,none,17\n", `"Spout: new, Rinse: bleach" is not known`},
		{"a treatment that says all, and what its spouts were of", "Site,Year,Treatment,Spout,Yield (gal/tap)\n" +
			"N,2019,Control,nylon,15\nN,2019,CV,resin,18\nN,2019,Bleach,nylon,16\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal N 2019/N/2019/chlorine-rinse/16//gal"},
		// 5 + 6 and 4 + 8 litres of two plots: 11 and 12, mean 11.5, sd 1/√2; the third was not read on its second day
		{"plots read on several days", "Site,Plot,Treatment,Date,Sap (L/tap)\nN,1,Control,2019-03-05,5\n" +
			"N,1,Control,2019-03-12,6\nN,2,Control,2019-03-05,4\nN,2,Control,2019-03-12,8\nN,3,CV,2019-03-05,7\n" +
			"N,3,CV,2019-03-12,8\nN,4,CV,2019-03-05,6\nN,4,CV,2019-03-12,NA\n",
			"N 2019/N/2019/unsanitized/11.5/0.707107/2l N 2019/N/2019/check-valve/15//1l"},
		{"plots none of which was read whole", "Site,Plot,Treatment,Date,Sap (L/tap)\nN,1,Control,2019-03-05,5\n" +
			"N,1,Control,2019-03-12,NA\nN,2,CV,2019-03-05,NA\nN,2,CV,2019-03-12,8\n", ""},
		{"plots of which a reading is no number", "Site,Plot,Treatment,Date,Sap (L/tap)\nN,1,Control,2019-03-05,5\n" +
			"N,1,Control,2019-03-12,six\nN,2,CV,2019-03-05,7\nN,2,CV,2019-03-12,8\n", `"six" is not a number`},
		{"readings that are added up already", "Site,Plot,Treatment,Date,Cumulative sap (L/tap)\n" +
			"N,1,Control,2019-03-05,5\nN,1,Control,2019-03-12,11\nN,2,CV,2019-03-05,7\nN,2,CV,2019-03-12,15\n",
			"N 2019/N/2019/unsanitized/11//l N 2019/N/2019/check-valve/15//l"},
		{"ages of drops under a bare header", "Site,Year,Treatment,Drops,Yield (gal/tap)\n" +
			"N,2019,Control,5 yr old,15\nN,2019,New drop,new,18\n" +
			"N,2019,New drop,1 yr,17\n", "N 2019/N/2019/unsanitized/15//gal " +
			"N 2019/N/2019/new-drop/18//gal N 2019/N/2019/new-drop/17//gal"},
		{"seasons in the names of trials", "Trial,Treatment,Yield (gal/tap)\nBog 2018,Control,15\nBog 2018,CV,18\n" +
			"Fen 2018-19,Control,14\nFen 2018-19,CV,17\n", "Bog 2018/Bog/2018/unsanitized/15//gal " +
			"Bog 2018/Bog/2018/check-valve/18//gal Fen 2019/Fen/2019/unsanitized/14//gal " +
			"Fen 2019/Fen/2019/check-valve/17//gal"},
		{"ends of an interval in French", "Lieu;Saison;Pratique;Gain (%);IC inf;IC sup\nA;2019;Clapet;38,5;25,1;52,0\n",
			"A 2019/A/2019/unsanitized/// A 2019/A/2019/check-valve/38.5%/25.1..52/se "},
		{"quarts of syrup", "Site,Year,Treatment,Syrup (qt/tap),Brix\nN,2019,Control,1.2,2\nN,2019,CV,1.44,2\n",
			"N 2019/N/2019/unsanitized/13.0137//gal N 2019/N/2019/check-valve/15.6165//gal"},
		{"trees read each month", "Site,Year,Tree,Treatment,Month,Sap (L)\nN,2019,1,Control,March,5\n" +
			"N,2019,1,Control,April,6\nN,2019,2,Control,March,5\nN,2019,2,Control,April,6.5\nN,2019,3,CV,March,7\n" +
			"N,2019,3,CV,April,8\nN,2019,4,CV,March,7\nN,2019,4,CV,April,9\n", // 11 and 11.5; 15 and 16
			"N 2019/N/2019/unsanitized/11.25/0.353553/2l N 2019/N/2019/check-valve/15.5/0.707107/2l"},
		{"several seasons in a cell", head + "N,2010-2014,Control,15,6,2\nN,2010-2014,CV,18,6,2\n" +
			"M,2013 & 2014,Control,15,6,2\nM,2013 & 2014,CV,18,6,2\n",
			"N 2014/N/2014/unsanitized/15/2/6gal N 2014/N/2014/check-valve/18/2/6gal " +
				"M 2014/M/2014/unsanitized/15/2/6gal M 2014/M/2014/check-valve/18/2/6gal"},
		{"winters, and parts of a season", head + "N,2013/14,Control,15,6,2\nN,2013/14,CV,18,6,2\n" +
			"M,2014 (early),Control,15,6,2\nM,2014 (early),CV,18,6,2\nM,2014 (late),Control,14,6,2\n" +
			"M,2014 (late),CV,16,6,2\nL,ca. 2015,Control,15,6,2\nL,ca. 2015,CV,18,6,2\n",
			"N 2014/N/2014/unsanitized/15/2/6gal N 2014/N/2014/check-valve/18/2/6gal " +
				"M 2014 early/M/2014/unsanitized/15/2/6gal M 2014 early/M/2014/check-valve/18/2/6gal " +
				"M 2014 late/M/2014/unsanitized/14/2/6gal M 2014 late/M/2014/check-valve/16/2/6gal " +
				"L 2015/L/2015/unsanitized/15/2/6gal L 2015/L/2015/check-valve/18/2/6gal"},
		{"years of two digits", head + "N,14,Control,15,6,2\nN,14,CV,18,6,2\n",
			"N 2014/N/2014/unsanitized/15/2/6gal N 2014/N/2014/check-valve/18/2/6gal"},
		{"letters of a test of means", "Site,Year,Treatment,Yield (gal/tap),SD\nN,2019,Control,12 A,2\n" +
			"N,2019,New spout,\"13.5 A,B\",2\nN,2019,CV,15 a-c,2\nN,2019,Bleach,14 (b),2\nN,2019,Silver,16ᵃᵇ,2\n",
			"N 2019/N/2019/unsanitized/12/2/gal N 2019/N/2019/new-spout/13.5/2/gal N " +
				"2019/N/2019/check-valve/15/2/gal " +
				"N 2019/N/2019/chlorine-rinse/14/2/gal N 2019/N/2019/silver-spout/16/2/gal"},
		{"letters in a column without a header", "Site,Year,Treatment,Yield (gal/tap),,SD\nN,2019,Control,12,a,2\n" +
			"N,2019,New spout,13,ab,2\nN,2019,CV,15,b,2\n", "N 2019/N/2019/unsanitized/12/2/gal " +
			"N 2019/N/2019/new-spout/13/2/gal N 2019/N/2019/check-valve/15/2/gal"},
		{"letters that are a unit", "Site,Year,Treatment,Yield (gal),Contact\nN,2019,Control,15,\n" +
			"N,2019,Bleach,16,12 h\nN,2019,Peroxide,17,2 d\n", "N 2019/N/2019/unsanitized/15//gal " +
			"N 2019/N/2019/chlorine-rinse/16//gal N 2019/N/2019/peroxide-rinse/17//gal"},
		{"marks of a test, a long dash for minus and for unknown", "Site,Year,Treatment,Gain (%)\n" +
			"N,2019,Bleach,–3.5 ns\n" +
			"N,2019,CV,38***\nN,2019,Silver,–\n",
			"N 2019/N/2019/unsanitized/// N 2019/N/2019/chlorine-rinse/-3.5%/../se  N " +
				"2019/N/2019/check-valve/38%/../se "},
		{"units to the power of minus one", "Site,Year,Treatment,Sap yield,Std error,Vacuum level,Plots\n" +
			"-,year,-,L tap-1,L tap⁻¹,kPa,count\nN,2019,Control,70,3,84,5\nN,2019,CV,90,3,84,5\n",
			"N 2019/N/2019/unsanitized/70//5l N 2019/N/2019/check-valve/90//5l"},
		{"apostrophes between thousands", "Site,Year,Treatment,Sap of the mainline (gal),Taps\n" +
			"N,2019,Control,1'200,80\nN,2019,CV,1’440,80\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal"},
		// the trade's rule of 86 says 0.30 × 86 / 2 = 12.9; by mass (density of sucrose solutions, ICUMSA): 0.30 gal
		// of syrup of
		// 66 °Bx hold 0.30 × 1.3224 × 0.66, a gallon of sap of 2 °Bx 1.0060 × 0.02: 13.01 gal, and 16.48
		{"syrup, the sugar of its sap beside", "Site,Year,Treatment,Syrup (gal/tap),SD (gal),Sap sugar (°Bx)\n" +
			"N,2019,Control,0.30,0.05,2°\nN,2019,CV,0.38,0.06,2.0\n", "N 2019/N/2019/unsanitized/13.0137/2.16895/gal " +
			"N 2019/N/2019/check-valve/16.4841/2.60275/gal"},
		{"syrup of which no sugar is told", "Site,Year,Treatment,Syrup yield (lb/tap)\nN,2019,Control,3.3\n" +
			"N,2019,CV,4.2\n", "no header stands for sugar"},
		{"syrup before sap", "Site,Year,Treatment,Syrup (gal/tap),Sap (gal/tap)\nN,2019,Control,0.3,13\n" +
			"N,2019,CV,0.4,16\n", "N 2019/N/2019/unsanitized/13//gal N 2019/N/2019/check-valve/16//gal"},
		{"drawn with bars", "| Site | Year | Treatment | GPT |\n|---|---|:-:|---:|\n| N | 2019 | Control | 15 |\n" +
			"| N | 2019 | CV | 18 |\n", "N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal"},
		{"a second table below", "Table 1. Yields,,,\nSite,Year,Treatment,Yield (gal/tap)\nN,2019,Control,15\n" +
			"N,2019,CV,18\n,,,\nTable 2. Sugar,,,\nSite,Year,Treatment,Brix\nN,2019,Control,2.1\nN,2019,CV,2\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal"},
		{"a table a season, whose titles say it", "Table 1. Yields 2019,,\nSite,Treatment,Yield (gal/tap)\n" +
			"N,Control,15\nN,CV,18\n,,\nTable 2. Yields 2020,,\nSite,Treatment,Yield (gal/tap)\nN,Control,14\n" +
			"N,CV,19\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18//gal " +
				"N 2020/N/2020/unsanitized/14//gal N 2020/N/2020/check-valve/19//gal"},
		{"read down, at a site called by a letter", "Treatment,Control,New spout,CV\nSite,N,N,N\n" +
			"Year,2019,2019,2019\n" +
			"Mean yield (gal/tap),12,14,18\nStd. dev.,2,2,3\nReplicates,6,6,6\n",
			"N 2019/N/2019/unsanitized/12/2/6gal N 2019/N/2019/new-spout/14/2/6gal N " +
				"2019/N/2019/check-valve/18/3/6gal"},
		{"practices by seasons, with their means", "Average of yield,Columns,,\nRows,2018,2019,Grand total\n" +
			"Control,14,15,14.5\nCheck valve,18,20,19\nGrand total,16,17.5,16.75\n", "no header stands for site"},
		{"the same, its site said", "Site,Treatment,2018,2019\nN,Control,14,15\nN,CV,18,20\nM,Control,12,15\n" +
			"M,CV,16,21\n",
			"N 2018/N/2018/unsanitized/14// N 2018/N/2018/check-valve/18// N 2019/N/2019/unsanitized/15// " +
				"N 2019/N/2019/check-valve/20// M 2018/M/2018/unsanitized/12// M 2018/M/2018/check-valve/16// " +
				"M 2019/M/2019/unsanitized/15// M 2019/M/2019/check-valve/21//"},
		{"a note's number behind a yield", "Site,Year,Treatment,Sap (gal/tap),n\nN,2019,Control,12.3*,6\n" +
			"N,2019,CV,15.1[1],6\n", "N 2019/N/2019/unsanitized/12.3//6gal N 2019/N/2019/check-valve/15.1//6gal"},
		{"counts below names that hold for the rows below", "Site,Year,Practice,Sap yield,,Reps\n,,,gal/tap,SD,\n" +
			"N,2021,Control,15.2,2.1,6\n,,Check valve,18.1,2.4,6\nM,2021,Control,13.1,1.9,5\n,,Check valve,16.5,2,5\n",
			"N 2021/N/2021/unsanitized/15.2/2.1/6gal N 2021/N/2021/check-valve/18.1/2.4/6gal " +
				"M 2021/M/2021/unsanitized/13.1/1.9/5gal M 2021/M/2021/check-valve/16.5/2/5gal"},
		{"ranges of what is counted", "Site,Year,Treatment,Sap (gal),Reps,Taps\nN,2020,Control,12,4-7,20-25\n" +
			"N,2020,CV,15,4-6,20-25\n", "N 2020/N/2020/unsanitized/12//6gal N 2020/N/2020/check-valve/15//5gal"},
		{"blanks that do not part, words with spare ones",
			"Site,Year,Treatment,Sap (gal/tap),n\nN ,2021,Control ,15.2,6\n" +
				"N\u00a0,2021, CV,18.1,6\n",
			"N 2021/N/2021/unsanitized/15.2//6gal N 2021/N/2021/check-valve/18.1//6gal"},
		{"below what can be told", "Site,Year,Treatment,Sap (gal/tap),n\nN,2020,Control,12.3,6\nN,2020,CV,<LOD,6\n",
			`"<LOD" is not a number`},
		{"codes whose legend stands below", "Site,Year,Trt,Sap (gal/tap),n\nN,2020,T1,12,6\nN,2020,T2,15,6\n,,,,\n" +
			"T1 = control,,,,\nT2 = check valve,,,,\n", `"T1" is not known`},
		{"a loss in brackets, as in accounts",
			"Site,Year,Treatment,Gain vs control\nN,2020,CV,22%\nN,2020,Bleach,(4%)\n",
			"stands in brackets"},
		{"letters that are treatments", head + "N,2019,N,15,6,2\nN,2019,P,18,6,2\n" +
			"", `column Treatment: "N" is not known`},
	} {
		if got := settled(t, "theirs.csv", []byte(c.text)); got != c.want && !(strings.Contains(got, "fault") ||
			strings.HasPrefix(got, "unsettled")) || !strings.Contains(got, c.want) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// The same of a trial's own tables: readings and season tables.
func TestHostileTablesOfATrial(t *testing.T) {
	layout := "season,block,unit,practice,taps\n2025,1,A1,unsanitized,20\n2025,1,A2,check-valve,20\n" +
		"2025,2,B1,check-valve,20\n2025,2,B2,unsanitized,20\n"
	wide := func(text string) string {
		var b []byte
		for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
			b = append(b, byte(u), byte(u>>8))
		}
		return string(b)
	}
	for _, c := range []struct{ name, text, want string }{
		{"a title above", "Sap readings 2025,,\nTree,Date,Sap (L)\nA1,2025-03-05,12\nA2,2025-03-05,13\n",
			"A1 03-05 12; A2 03-05 13"},
		{"units in a row of their own", "Tree,Date,Sap,Vacuum\n,,(L),(kPa)\nA1,2025-03-05,12,80\n", "A1 03-05 12"},
		{"semicolons, a mark of the byte order, commas",
			"\ufeffArbre;Date;Eau (L)\nA1;15/03/2025;12,5\nA2;16/03/2025;1 013,5\n",
			"A1 03-15 12.5; A2 03-16 1013.5"},
		{"UTF-16", wide("Arbre;Date;Eau (L)\nA1;15/03/2025;12,5\n"), "A1 03-15 12.5"},
		{"a letter of Windows", "\xc9rable;Date;Eau (L)\nA1;15/03/2025;12,5\n", "A1 03-15 12.5"},
		{"gallons in cells", "Tree,Date,Sap (L)\nA1,2025-03-05,10 gal\nA2,2025-03-05,12\n", // 10 × 3.785411784
			"A1 03-05 37.8541; A2 03-05 12"},
		{"days of which no order is told", "Tree,Date,Sap (L)\nA1,03/04/2025,12\n", `"03/04/2025" is not a date`},
		{"days of which one tells",
			"Tree,Date,Sap (L)\nA1,03/04/2025,12\nA1,15/04/2025,13\n", "A1 04-03 12; A1 04-15 13"},
		{"a total below", "Tree,Date,Sap (L)\nA1,2025-03-05,12\nTotal,,12\n", "A1 03-05 12"},
		{"a range", "Tree,Date,Sap (L)\nA1,2025-03-05,12-14\n", "is a range and no number"},
		{"about", "Tree,Date,Sap (L)\nA1,2025-03-05,~12\n", "not a number"},
		{"a footnote mark", "Tree,Date,Sap (L)\nA1,2025-03-05,12*\n", "not a number"},
		{"less than", "Tree,Date,Sap (L)\nA1,2025-03-05,<1\n", "is a limit and no number"},
		{"not read", "Tree,Date,Sap (L),Brix\nA1,2025-03-05,NA,2.1\n", `unknown = ["NA"]`},
		{"thousands or decimals", "Tree,Date,Sap (L)\nA1,2025-03-05,\"1,200\"\n", "point = "},
		{"no unit at all", "Tree,Date,Sap\nA1,2025-03-05,12\n", "the unit of the column Sap is not said"},
		{"a header that stands twice", "Tree,Date,Sap (L),Sap (L)\nA1,2025-03-05,12,13\n", "stands twice"},
		{"in two units", "Tree,Date,Sap (L),Sap (gal)\nA1,2025-03-05,12,3\n", "say the same in two units"},
		{"a column a day, in cells with their unit", "Arbre;15/03/2025;16/03/2025\nA1;12,5 L;3 L\nA2;;4 L\n",
			`volume_l = "Sap"`},
		{"a column a day, in no unit", "Tree,15 Mar 2025,16 Mar 2025\nA1,12.5,3\n",
			"the unit of the column Sap is not"},
		{"a column a unit", "Date,A1,A2,Notes\n2025-03-15,12 L,13 L,cold\n2025-03-16,,4 L,\n",
			`volume_l = "Sap"`},
		{"parts of a season, and several", "Season,Tree,Treatment,Taps,Sap (L)\n2025 (early),A1,Control,20,400\n" +
			"2024-2025,A2,CV,20,500\n", "2024-2025"},
		{"a blank column", "Tree,,Date,Sap (L)\nA1,,2025-03-05,12\n", "A1 03-05 12"},
		{"the header again", "Tree,Date,Sap (L)\nA1,2025-03-05,12\nTree,Date,Sap (L)\nA2,2025-03-05,13\n",
			"A1 03-05 12; A2 03-05 13"},
	} {
		dir := t.TempDir()
		put := func(name, text string) string {
			path := filepath.Join(dir, name)
			os.WriteFile(path, []byte(text), 0o644)
			return path
		}
		got, _, err := Trial(trial.Trial{}, practice.Shipped(), nil, put("layout.csv", layout), put("read.csv", c.text))
		said := fmt.Sprint(err)
		if err == nil {
			var list []string
			for _, r := range got.Records[0].Readings {
				list = append(list, fmt.Sprintf("%s %s %.6g", r.Unit, r.At.Format("01-02"), float64(*r.Volume)))
			}
			said = strings.Join(list, "; ")
		}
		if said != c.want && (err == nil || !strings.Contains(said, c.want)) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, said, c.want)
		}
	}
}

// Readings in a column a day or a column a unit are those of a long table, once their unit is settled.
func TestReadingsOfOthersInColumns(t *testing.T) {
	words := gloss.Glossary{{Of: gloss.Columns, Said: "Sap", Means: "volume_l"}}
	for _, text := range []string{
		"Arbre;15/03/2025;16/03/2025\nA1;12,5;3\nA2;;4 L\n",
		"Readings of the home bush,,\nTree,15 Mar 2025,2025-03-16\nA1,12.5,3\nA2,,4\n",
		"Date,A1,A2,Notes\n2025-03-15,12.5,,cold\n2025-03-16,3,4 L,\n",
	} {
		got, _, err := TrialOf(laidOut(), practice.Shipped(), words, "read.csv", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		var list []string
		for _, r := range got.Records {
			for _, x := range r.Readings {
				list = append(list, fmt.Sprintf("%s %s %g", x.Unit, x.At.Format("01-02"), float64(*x.Volume)))
			}
		}
		slices.Sort(list)
		if want := "A1 03-15 12.5; A1 03-16 3; A2 03-16 4"; strings.Join(list, "; ") != want {
			t.Errorf("%s:\n got %s\nwant %s", text, strings.Join(list, "; "), want)
		}
	}
}
