"""Members, tokens and sign-offs of one kitchen, unseen by any other."""


def test_a_token_speaks_for_its_member(client):
    me = client.get("/v1/members/me", headers=client.member.headers).json()
    assert (me["name"], me["role"], me["kitchen"]["altitude_ft"]) == ("Ada", "member", 4200)
    assert me["sign_offs"] == [{"skill": "pressure-canning", "expires_on": "2030-01-01"}]
