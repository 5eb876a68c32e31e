"""The addresses of what happened: the floor, the desk, the label's short address, other systems.

Every name needs a row in plant/access.py; without one its address is refused to everybody.
"""

from django.urls import URLPattern, URLResolver, path
from drf_spectacular.views import SpectacularAPIView

from trace.api.calibrations import Calibrations
from trace.api.cases import Cases, Complaints
from trace.api.impact import Impact
from trace.api.owners import Owners
from trace.api.papers import OnePaper, Papers
from trace.api.saved_scopes import OneSavedScope, SavedScopes
from trace.api.views import Balance, Balances, CommonCause, Genealogy, PlantData, Rules, Scope
from trace.pages import (
    balance,
    compare,
    dispersion,
    home,
    hull,
    lot,
    plan,
    records,
    rules,
    scope,
    search,
    short_address,
    sign_in,
    unit,
)
from trace.pages import labels as label_pages
from trace.pages.cases.case import case, cases
from trace.pages.cases.complaint import complaint, complaint_photo
from trace.pages.cases.take import take_complaint
from trace.pages.common_cause import bad_ones
from trace.pages.containment import containment
from trace.pages.drill import drill
from trace.pages.hold_known import hold_known
from trace.pages.impact import impact
from trace.pages.load_paper import load_paper
from trace.pages.open_lists.view import open_list
from trace.pages.owners.view import owners_page
from trace.pages.papers import paper, papers
from trace.pages.recalls.view import recall
from trace.pages.saved_scopes import saved
from trace.pages.scope_holds import scope_holds
from trace.pages.setup.view import setup
from trace.pages.suspected_swaps import suspected_swaps
from trace.scan.labels import labels_pdf
from trace.scan.view import station
from trace.scan.where import where

# Signing in and out, and the first page.
doors: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("sign-in/", sign_in.floor, name="sign_in"),
    path("sign-in/desk/", sign_in.desk, name="sign_in_desk"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
]

# The address printed in a label: upper case, so that its symbol stays small.
labels: list[URLPattern | URLResolver] = [
    path("S/<str:code>", short_address.short_address, name="short_address"),
]

# The floor: /scan/…
scan: list[URLPattern | URLResolver] = [
    path("scan/", where, name="where"),
    path("scan/<slug:slug>/", station, name="station"),
    path("labels/", labels_pdf, name="labels_pdf"),
    path("labels/plant/", label_pages.plant_labels, name="plant_labels"),
    path("labels/to-try/", label_pages.labels_to_try, name="labels_to_try"),
]

# The desk: hulls, lots, search, rules, plant data.
pages: list[URLPattern | URLResolver] = [
    path("hull/<str:serial>/", hull.hull, name="hull"),
    path("lot/<str:code>/", lot.lot, name="lot"),
    path("balance/", balance.days, name="balance_of_days"),
    path("balance/<str:code>/", balance.balance, name="balance"),
    path("dispersion/", dispersion.dispersion, name="dispersion"),
    path("dispersion/<str:code>/", dispersion.dispersion_of, name="dispersion_of"),
    path("plan/", plan.plan, name="plan"),
    path("rules/", rules.rules, name="rules"),
    path("hold/<str:key>/", hold_known, name="hold_known"),
    path("load/<str:uid>/", load_paper, name="load_paper"),
    path("records/", records.records, name="records"),
    path("complaint/take/", take_complaint, name="take_complaint"),
    path("complaint/<int:number>/", complaint, name="complaint"),
    path("complaint/<int:number>/photo/<int:n>/", complaint_photo, name="complaint_photo"),
    path("cases/", cases, name="cases"),
    path("case/<int:number>/", case, name="case"),
    path("impact/", impact, name="impact"),
    path("plates/suspected/", suspected_swaps, name="suspected_swaps"),
    path("owners/", owners_page, name="owners"),
    path("setup/<slug:kind>/", setup, name="setup"),
    path("open/<slug:what>/", open_list, name="open_list"),
    path("search/", search.search, name="search"),
    path("papers/", papers, name="papers"),
    path("papers/<int:number>/", paper, name="paper"),
    path("compare/", compare.compare, name="compare"),
    path("scope/", scope.scope, name="scope"),
    path("scope/holds/", scope_holds, name="scope_holds"),
    path("scope/saved/<int:number>/", saved, name="saved_scope"),
    path("common-cause/", bad_ones, name="common_cause"),
    path("containment/", containment, name="containment"),
    path("recall/", recall, name="recall"),
    path("drill/", drill, name="drill"),
    path("unit/<str:code>/", unit.unit, name="unit"),
]

# Other systems: /api/…
api: list[URLPattern | URLResolver] = [
    path("api/schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("api/genealogy/<str:direction>/<str:code>/", Genealogy.as_view(), name="api_genealogy"),
    path("api/balances/", Balances.as_view(), name="api_balances"),
    path("api/balance/<str:code>/", Balance.as_view(), name="api_balance"),
    path("api/scope/", Scope.as_view(), name="api_scope"),
    path("api/scopes/", SavedScopes.as_view(), name="api_saved_scopes"),
    path("api/scopes/<int:number>/", OneSavedScope.as_view(), name="api_saved_scope"),
    path("api/common-cause/", CommonCause.as_view(), name="api_common_cause"),
    path("api/plant-data/<slug:kind>/", PlantData.as_view(), name="api_plant_data"),
    path("api/calibrations/", Calibrations.as_view(), name="api_calibrations"),
    path("api/complaints/", Complaints.as_view(), name="api_complaints"),
    path("api/cases/", Cases.as_view(), name="api_cases"),
    path("api/impact/", Impact.as_view(), name="api_impact"),
    path("api/owners/", Owners.as_view(), name="api_owners"),
    path("api/papers/", Papers.as_view(), name="api_papers"),
    path("api/papers/<int:number>/", OnePaper.as_view(), name="api_paper"),
    path("api/rules/", Rules.as_view(), name="api_rules"),
]

urlpatterns = [*doors, *labels, *scan, *pages, *api]
